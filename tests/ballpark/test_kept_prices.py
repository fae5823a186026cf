"""Prices that are kept while rooms are priced: gone on with, and never mixed with others."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest

from service.ballpark.generate import rooms
from service.commands import kept_prices
from service.commands.kept_prices import KeptPrices
from service.quoting.ballparks.engine import Engine, Prices


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """The areas of the rooms that were priced; their price is their area, and every fifth is refused."""
    areas: list[float] = []

    def prices(engine: Engine, wanted: Iterable[Any], processes: int) -> Iterator[Prices]:
        for room in wanted:
            areas.append(room.answers.area_m2)
            yield (room.answers.area_m2,) if len(areas) % 5 else ()

    monkeypatch.setattr(kept_prices, "prices", prices)
    monkeypatch.setattr(kept_prices, "basis_of", lambda engine: str(hash(engine)))
    return areas


@pytest.fixture
def new(tmp_path: Path) -> Callable[[], KeptPrices]:
    engine: Any = type("Invented", (), {"regions": {"": None}})()
    return lambda: KeptPrices(tmp_path, engine, 1)


def test_pricing_goes_on_where_it_was_stopped(asked: list[float], new: Callable[[], KeptPrices]) -> None:
    """The second process prices the rest alone, in the rooms' order; a line cut off is done anew."""
    drawn = [room.answers.area_m2 for room in rooms("hall", 12, 1)]
    stopped = new().go_on("hall", 1, 12)
    for _ in range(4):
        next(stopped)
    stopped.close()
    (file,) = new()._folder.iterdir()
    file.write_text(file.read_text("utf-8") + "[1", "utf-8")
    assert new().missing("hall", 1, 12) == 8
    assert len(list(new().go_on("hall", 1, 12))) == 8
    assert asked == drawn
    sample = new().sample("hall", 1)
    assert sample.gross[:, 0].tolist() == sample.size[:, 0].tolist()
    assert (len(sample), sample.refused) == (10, 2)
    assert list(new().go_on("hall", 1, 12)) == []


def test_what_other_code_or_prices_reckoned_is_not_mixed_in(
    asked: list[float], new: Callable[[], KeptPrices], monkeypatch: pytest.MonkeyPatch
) -> None:
    list(new().go_on("hall", 1, 2))
    assert new().missing("hall", 1, 2) == 0
    assert new().missing("hall", 2, 2) == 2
    with monkeypatch.context() as changed:
        changed.setattr(kept_prices, "code", lambda: "other")
        assert new().missing("hall", 1, 2) == 2
    monkeypatch.setattr(kept_prices, "basis_of", lambda _: "other")
    assert new().missing("hall", 1, 2) == 2
