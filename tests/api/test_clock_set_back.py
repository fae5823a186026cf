"""A machine's clock that is set back by more than a day between two requests."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from types import SimpleNamespace

import pytest

from service.store import ids
from tests.api.conftest import Office
from tests.api.test_quote_life import ACCEPT, JOB, NOW, clock, step

__all__ = ["clock"]


def test_nothing_is_refused_doubled_or_missed(
    demo: Office, clock: Callable[[datetime], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    def set_to(moment: datetime) -> None:
        clock(moment)
        nanoseconds = int(moment.timestamp()) * 10**9
        monkeypatch.setattr(ids, "time", SimpleNamespace(time_ns=lambda: nanoseconds))

    set_to(NOW)
    made = [demo.post("/v1/quotes", JOB) for _ in range(2)]
    assert step(demo, made[0], "issue").status_code == 200
    set_to(NOW - timedelta(hours=26))
    made += [demo.post("/v1/quotes", JOB) for _ in range(2)]
    assert [answer.status_code for answer in made] == [201] * 4
    assert step(demo, made[0], "accept", ACCEPT).status_code == 200
    numbers = [int(answer.json["number"].rpartition("-")[2]) for answer in made]
    assert numbers == list(range(numbers[0], numbers[0] + 4))
    seen, cursor = [], ""
    while cursor is not None:
        page = demo.get(f"/v1/quotes?limit=1{cursor and f'&cursor={cursor}'}").json
        seen += [item["id"] for item in page["items"]]
        cursor = page["next"]
    assert sorted(seen) == sorted(answer.json["id"] for answer in made)
