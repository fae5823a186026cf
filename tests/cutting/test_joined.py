"""Runs longer than a stick against every way to part and cut them, in whole millimetres."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import product
from math import ceil, fsum

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.cutting.stock import CannotCut, CuttingPlan, Demand, Stock, cut_joined
from tests.cutting.all_ways import least_cost


def parted(run: int, pieces: int, least: int, most: int) -> Iterator[tuple[int, ...]]:
    """All ways to make a run out of so many pieces, each listed once."""
    if pieces == 1:
        if least <= run <= most:
            yield (run,)
        return
    for first in range(max(least, 1), min(most, run // pieces) + 1):
        for rest in parted(run - first, pieces - 1, first, most):
            yield (first, *rest)


def ways(run: int, longest: int, least: int) -> list[tuple[int, ...]]:
    joined = ceil(run / longest)
    return list(parted(run, joined, least, longest)) or list(parted(run, joined, 1, longest))


def cheapest(
    runs: Sequence[int], fixed: Sequence[int], stocks: Sequence[Stock], kerf: int, least: int
) -> float:
    longest = int(max(stock.length for stock in stocks))
    choices = product(*(ways(run, longest, least) for run in runs))
    pieces = {tuple(sorted((*fixed, *(piece for way in chosen for piece in way)))) for chosen in choices}
    return min(least_cost(each, stocks, kerf) or float("inf") for each in pieces)


def is_cut_right(plan: CuttingPlan, wanted: Sequence[int], stick: int, kerf: int, least: int) -> None:
    """Nothing overfull, the pieces as long as the runs, no more of them than must be, and none too short."""
    pieces: Counter[float] = Counter()
    for pattern in plan.patterns:
        assert sum(pattern.pieces) + kerf * (len(pattern.pieces) - 1) <= pattern.stock.length + 0.02
        for piece in pattern.pieces:
            pieces[piece] += pattern.times
    assert sum(pieces.elements()) == pytest.approx(sum(wanted), abs=0.01 * len(wanted) + 0.01)
    assert pieces.total() == sum(ceil(run / stick) for run in wanted)
    short = [piece for piece in pieces.elements() if piece < least - 0.01]
    assert len(short) <= sum(run < least for run in wanted)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(21, 39), min_size=1, max_size=2),
    st.lists(st.integers(3, 20), max_size=3),
    st.integers(0, 6),
    st.integers(0, 2),
)
def test_one_stick_against_every_parting(runs: list[int], fixed: list[int], least: int, kerf: int) -> None:
    stocks = [Stock(20.0)]
    demands = [Demand(float(length), 1) for length in (*runs, *fixed)]
    plan = cut_joined(demands, stocks, float(kerf), float(least))
    is_cut_right(plan, [*runs, *fixed], 20, kerf, least)
    best = cheapest(runs, fixed, stocks, kerf, least)
    assert plan.bound <= best <= plan.cost
    assert plan.optimal or any(0 < run % 20 < least for run in runs)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(21, 50), min_size=1, max_size=2),
    st.lists(st.integers(3, 16), max_size=2),
    st.sampled_from([(13, 7.0), (15, 8.0), (17, 9.5)]),
    st.integers(0, 5),
)
def test_two_sticks_against_every_parting(
    runs: list[int], fixed: list[int], other: tuple[int, float], least: int
) -> None:
    stocks = [Stock(20.0, 10.0), Stock(float(other[0]), other[1])]
    demands = [Demand(float(length), 1) for length in (*runs, *fixed)]
    plan = cut_joined(demands, stocks, 1.0, float(least))
    is_cut_right(plan, [*runs, *fixed], 20, 1, least)
    best = cheapest(runs, fixed, stocks, 1, least)
    assert plan.bound <= best <= plan.cost
    assert not plan.optimal or plan.cost == best


@pytest.mark.parametrize(
    ("order", "stick", "kerf", "sticks"),
    [
        ({2600: 1, 1190: 2}, 2500, 3.0, 2),  # 1300 + 3 + 1190, twice; no room beside 2300
        ({2600: 10, 1190: 20}, 2500, 3.0, 20),
        ({5200: 2, 2400: 4}, 5000, 0.0, 4),  # 2600 + 2400, four times
    ],
)
def test_parted_where_the_rest_fits(order: dict[int, int], stick: int, kerf: float, sticks: int) -> None:
    demands = [Demand(float(length), count) for length, count in order.items()]
    plan = cut_joined(demands, [Stock(float(stick))], kerf, 300.0)
    is_cut_right(plan, [run for run, n in order.items() for _ in range(n)], stick, int(kerf), 300)
    assert (plan.sticks, plan.bound) == (sticks, sticks)


def test_a_gap_is_told_where_rests_are_too_short() -> None:
    """Ten sticks would do for three rests of 100 beside 2000; none may be shorter than 300."""
    plan = cut_joined([Demand(7600.0, 3), Demand(2000.0, 1)], [Stock(2500.0)], 3.0, 300.0)
    assert (plan.cost, plan.bound, plan.optimal) == (11, 10, False)


@given(st.floats(2500.02, 9000.0), st.floats(0.0, 5.0))
def test_pieces_make_up_all_of_a_run(run: float, kerf: float) -> None:
    plan = cut_joined([Demand(run, 1)], [Stock(2500.0)], kerf, 300.0)
    pieces = fsum(piece for pattern in plan.patterns for piece in pattern.pieces * pattern.times)
    assert run - 1e-9 <= pieces + (0.01 if run % 2500.0 < 0.01 else 0.0) <= run + 0.02


def test_limited_sticks_and_the_same_again() -> None:
    demands = [Demand(2600.0, 2), Demand(900.0, 3)]
    plans = {repr(cut_joined(demands, [Stock(2500.0, 1.0, 4)], 3.0, 300.0)) for _ in range(3)}
    assert len(plans) == 1
    with pytest.raises(CannotCut):
        cut_joined(demands, [Stock(2500.0, 1.0, 2)], 3.0, 300.0)
