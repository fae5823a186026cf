"""Time to cut the strips of twelve rooms, narrow ones side by side, and to buy a hundred lengths from three
sizes of roll with price breaks; beside a plain first-fit decreasing of 200 pieces
(pytest --benchmark-enable -n 0 tests/benchmarks)."""

from __future__ import annotations

from random import Random

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from service.cutting.rolls import RollPlan, cut_strips
from service.cutting.runs import CutLengths
from service.cutting.stock import Stock
from service.pricing.cut_to_length import cut_mix
from service.pricing.model import Cutting
from service.pricing.packs import Mix
from tests.benchmarks.ratios import note
from tests.benchmarks.test_cutting_stock import KERF, timed_first_fit
from tests.cutting.all_ways import order_of
from tests.pricing.goods import offer

MOST_TIMES = 500  # the plain way takes about 0.4 ms: 0.2 s
MOST_TIMES_BREAKS = 1000  # 0.4 s, all of the effort
OFFERS = [
    offer("m", "5", "72.90"),
    offer("m", "15", "205.00", "199.00@4"),
    offer("m", "30", "389.00", "375.00@3"),
]


def strips_of_rooms(rooms: int, seed: int) -> list[tuple[float, float, int]]:
    random = Random(seed)
    sides = [(random.randint(1200, 6000), random.randint(1200, 6000)) for _ in range(rooms)]
    whole = [(float(length), 1000.0, width // 1000) for length, width in sides]
    return whole + [(float(length), float(width % 1000), 1) for length, width in sides if width % 1000 >= 1]


def reference() -> float:
    return timed_first_fit([d.length for d in order_of(200, 15, 0) for _ in range(d.count)])[1]


@pytest.mark.parametrize("seed", range(5))
def test_strips_of_twelve_rooms(benchmark: BenchmarkFixture, seed: int) -> None:
    plan: RollPlan = benchmark(cut_strips, strips_of_rooms(12, seed), 1000.0, [Stock(30000.0)])
    assert plan.plan.optimal
    within(benchmark, "the strips of twelve rooms cut from rolls", MOST_TIMES)


def test_price_breaks(benchmark: BenchmarkFixture) -> None:
    random = Random(120)
    runs = tuple((round(random.uniform(400.0, 6000.0), 1), 1) for _ in range(100))
    found: tuple[Mix, Cutting] = benchmark(cut_mix, CutLengths(runs, KERF), OFFERS)
    assert found[1].gap < found[1].cost / 20
    within(benchmark, "100 lengths from rolls with price breaks", MOST_TIMES_BREAKS)


def within(benchmark: BenchmarkFixture, name: str, most: float) -> None:
    if benchmark.stats is not None:
        times = benchmark.stats.stats.median / reference()
        note(benchmark, name, times, "times", most, "first-fit decreasing of 200 pieces")
        assert times < most
