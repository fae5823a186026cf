"""Strips ripped side by side from rolls: worked cases, every way of ripping and cutting tried, and all pieces
laid out without a lap."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import combinations
from math import ceil
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

from service.cutting.area_bound import area_bound
from service.cutting.effort import Effort
from service.cutting.problem import Problem
from service.cutting.rolls import RollPlan, cut_strips
from service.cutting.sections import Section, Strip, length_of
from service.cutting.steps import STEPS_PER_MM, down
from service.cutting.stock import CannotCut, Stock

Size = tuple[float, float, int]


class Place(NamedTuple):
    """A strip in a roll [mm]: the number of the roll, where it begins along and across it, and its size."""

    roll: int
    along: float
    across: float
    length: float
    width: float


def places_of(plan: RollPlan) -> Iterator[Place]:
    """Where every strip comes from, roll by roll."""
    left: dict[int, list[Section]] = defaultdict(list)
    for section in plan.sections:
        left[length_of(section)].append(section)
    cuts = (pattern.pieces for pattern in plan.plan.patterns for _ in range(pattern.times))
    for roll, pieces in enumerate(cuts):
        along = 0
        for piece in pieces:
            section = left[down(piece)].pop()
            yield from _places(section, roll, along)
            along += length_of(section)


def _places(section: Section, roll: int, along: int) -> Iterator[Place]:
    across = 0
    for lane in section:
        start = along
        for strip in lane:
            yield Place(roll, *(steps / STEPS_PER_MM for steps in (start, across, strip.length, strip.width)))
            start += strip.length
        across += max(strip.width for strip in lane)


def check(plan: RollPlan, wanted: Sequence[Size], width: float) -> None:
    """Every strip has a place of its own within a roll; stage by stage a knife can get at it."""
    places = list(places_of(plan))
    got = Counter((place.length, place.width) for place in places)
    assert got == Counter({(length, w): count for length, w, count in wanted})
    rolls = [pattern.stock.length for pattern in plan.plan.patterns for _ in range(pattern.times)]
    for number, length in enumerate(rolls):
        mine = [p for p in places if p.roll == number]
        boxes = [box(p.along, p.across, p.along + p.length, p.across + p.width) for p in mine]
        roll = box(0, 0, length, width).buffer(0.01 * (1 + len(boxes)))
        assert all(roll.contains(one) for one in boxes)
        assert all(one.intersection(other).area < 1e-6 for one, other in combinations(boxes, 2))
    assert 0 <= plan.plan.bound <= plan.plan.cost


@pytest.mark.parametrize(
    ("wanted", "roll", "rolls", "sections"),
    [
        # Four rooms of 1.5 x 1.5 m: four whole strips and two pairs of halves, 9 m; apart they are 12.
        ([(1500.0, 1000.0, 4), (1500.0, 500.0, 4)], 5000.0, 2, 6),
        # Twelve of 2.5 x 2.5 m: 24 whole and six pairs, 75 m; apart 36 strips, 90 m.
        ([(2500.0, 1000.0, 24), (2500.0, 500.0, 12)], 30000.0, 3, 30),
        # Two short strips one after the other beside a long one: 3 m, not 4.5.
        ([(3000.0, 500.0, 1), (1500.0, 500.0, 2)], 3000.0, 1, 1),
        # A long lane of two beside one of 3 m.
        ([(3000.0, 600.0, 1), (2000.0, 400.0, 2)], 4000.0, 1, 1),
        # 510 wide, no two fit side by side.
        ([(2000.0, 510.0, 3)], 4000.0, 2, 3),
        # Three from one width.
        ([(2000.0, 333.3, 9)], 6000.0, 1, 3),
        # The pairs are 600 + 400 and 700 + 300.
        ([(2000.0, 700.0, 1), (2000.0, 600.0, 1), (2000.0, 400.0, 1), (2000.0, 300.0, 1)], 4000.0, 1, 2),
    ],
)
def test_worked_cases(wanted: list[Size], roll: float, rolls: int, sections: int) -> None:
    plan = cut_strips(wanted, 1000.0, [Stock(roll)])
    check(plan, wanted, 1000.0)
    assert (plan.plan.sticks, plan.plan.bound, len(plan.sections)) == (rolls, rolls, sections)


def _partings(things: tuple[int, ...]) -> Iterator[list[tuple[int, ...]]]:
    if not things:
        yield []
        return
    for more in range(len(things)):
        for rest in combinations(things[1:], more):
            others = tuple(thing for thing in things[1:] if thing not in rest)
            yield from ([(things[0], *rest), *parts] for parts in _partings(others))


def least_cost(strips: Sequence[tuple[int, int]], width: int, stocks: Sequence[Stock]) -> float:
    """Every parting into lanes, of those into sections, of those into rolls."""
    longest = max(stock.length for stock in stocks)

    def priced(length: int) -> float:
        return min((stock.cost for stock in stocks if stock.length >= length), default=1e9)

    @cache
    def rolled(lengths: tuple[int, ...]) -> float:
        every = _partings(tuple(range(len(lengths))))
        return min(sum(priced(sum(lengths[i] for i in part)) for part in parts) for parts in every)

    found: set[tuple[int, ...]] = set()
    for lanes in _partings(tuple(range(len(strips)))):
        sizes = [(sum(strips[i][0] for i in lane), max(strips[i][1] for i in lane)) for lane in lanes]
        for sections in _partings(tuple(range(len(sizes)))):
            if all(sum(sizes[i][1] for i in section) <= width for section in sections):
                lengths = sorted(max(sizes[i][0] for i in section) for section in sections)
                if lengths[-1] <= longest:
                    found.add(tuple(lengths))
    return min(rolled(lengths) for lengths in found)


small = st.lists(st.tuples(st.integers(2, 12), st.integers(1, 10)), min_size=1, max_size=5)


@settings(max_examples=60, deadline=None)
@given(small, st.sampled_from([(12,), (12, 20)]))
def test_no_way_is_cheaper(strips: list[tuple[int, int]], lengths: tuple[int, ...]) -> None:
    stocks = [Stock(float(length), float(length - length // 10)) for length in lengths]
    wanted = [(float(length), float(width), count) for (length, width), count in Counter(strips).items()]
    plan = cut_strips(wanted, 10.0, stocks)
    check(plan, wanted, 10.0)
    least = least_cost(strips, 10, stocks)
    assert plan.plan.cost == least
    assert plan.plan.bound == least


@given(st.lists(st.tuples(st.integers(300, 6000), st.integers(50, 1000)), min_size=1, max_size=25))
@settings(max_examples=30, deadline=None)
def test_larger_orders_lie_between_area_and_strips_of_full_width(strips: list[tuple[int, int]]) -> None:
    wanted = [(float(length), float(width), count) for (length, width), count in Counter(strips).items()]
    plan = cut_strips(wanted, 1000.0, [Stock(15000.0)])
    check(plan, wanted, 1000.0)
    area = sum(length * width for length, width in strips)
    assert ceil(area / 15e6) <= plan.plan.bound <= plan.plan.cost
    apart = cut_strips([(length, 1000.0, count) for length, _, count in wanted], 1000.0, [Stock(15000.0)])
    assert plan.plan.cost <= apart.plan.cost
    assert plan == cut_strips(wanted, 1000.0, [Stock(15000.0)])


def test_the_bound_of_widths_over_half_is_that_of_their_lengths() -> None:
    """No two of 600 lie side by side: three of 8 m and of 7 m need six rolls of 10 m, by area 3."""
    rolls = Problem((), (), (1_000_000,), (1,), (None,))
    strips = [Strip(800_000, 60_000), Strip(700_000, 60_000)] * 3
    assert area_bound(strips, 100_000, rolls, Effort()) == 6
    assert area_bound(strips, 100_000, rolls, Effort(0)) == 3


def test_full_widths_are_cut_as_sticks_are() -> None:
    plan = cut_strips([(4000.0, 1000.0, 3), (2000.0, 1200.0, 2)], 1000.0, [Stock(5000.0)])
    assert plan.plan.sticks == 4
    assert plan.plan.optimal


def test_a_strip_longer_than_every_roll() -> None:
    with pytest.raises(CannotCut):
        cut_strips([(6000.0, 400.0, 1)], 1000.0, [Stock(5000.0)])


def test_a_search_cut_short_keeps_a_true_bound() -> None:
    wanted = [(2000.0 + 31.0 * n, 150.0 + 41.0 * n, 1) for n in range(20)]
    best = cut_strips(wanted, 1000.0, [Stock(5000.0)])
    for nodes, effort in ((0, Effort()), (100, Effort(0)), (100, Effort(50_000))):
        plan = cut_strips(wanted, 1000.0, [Stock(5000.0)], nodes, effort)
        check(plan, wanted, 1000.0)
        assert plan.plan.bound <= best.plan.cost <= plan.plan.cost
