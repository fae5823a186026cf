"""What benchmarks measure, noted where one table finds it (`python -m tests.benchmarks`)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from pytest_benchmark.fixture import BenchmarkFixture

NOTED = "ratios"


@dataclass(frozen=True)
class Ratio:
    """A figure in its unit, its limit (the most, or with `least` the least), and what stood beside it."""

    name: str
    figure: float
    unit: str
    limit: float
    reference: str = ""
    least: bool = False

    @property
    def held(self) -> bool:
        return self.figure >= self.limit if self.least else self.figure <= self.limit


def note(
    benchmark: BenchmarkFixture,
    name: str,
    figure: float,
    unit: str,
    limit: float,
    reference: str = "",
    *,
    least: bool = False,
) -> None:
    ratio = Ratio(name, float(figure), unit, float(limit), reference, least)
    benchmark.extra_info.setdefault(NOTED, []).append(asdict(ratio))


def noted(benchmarks: Iterable[Mapping[str, Any]]) -> list[Ratio]:
    """All of a run's, as pytest-benchmark writes it down; of one name the worst alone."""
    worst: dict[str, Ratio] = {}
    for each in benchmarks:
        for found in each["extra_info"].get(NOTED, ()):
            ratio = Ratio(**found)
            known = worst.setdefault(ratio.name, ratio)
            if (ratio.figure < known.figure) if ratio.least else (ratio.figure > known.figure):
                worst[ratio.name] = ratio
    return list(worst.values())
