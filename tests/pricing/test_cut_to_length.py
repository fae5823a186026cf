"""Sticks and rolls bought by the lengths cut from them: provable cases, and a search through all ways."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import cache
from itertools import combinations
from itertools import product as ways
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.cutting.runs import CutLengths, split
from service.pricing import price
from service.pricing.cut_to_length import cut_mix
from service.pricing.model import Line, Need, Offer, PriceBook, Terms
from service.pricing.packs import pack_price
from tests.cutting.all_ways import order_of
from tests.pricing.goods import D, book, offer, product

STICKS = book([product("p", "edge", "m")], [offer("p", "2.5", "10.00")])


def profile(*runs: tuple[float, int], kerf: float = 0.0, room: str = "A", least: float = 0.0) -> Need:
    metres = sum(length * count for length, count in runs) / 1000
    lengths = CutLengths(runs, kerf, least)
    return Need("edge", "m", D(f"{metres:.6f}"), rooms=(room,), lengths=lengths)


def mat(*strips: tuple[float, int], width: float = 1000.0) -> Need:
    area = sum(length * count for length, count in strips) / 1000 * width / 1000
    return Need("mat", "m2", D(f"{area:.6f}"), lengths=CutLengths(strips, width_mm=width))


def bought(stock: PriceBook, *needs: Need) -> list[Line]:
    answer = price(needs, (), D(50), stock, Terms("t", "invented"))
    assert answer.gaps == ()
    return [line for line in answer.lines if line.kind == "material"]


@pytest.mark.parametrize(
    ("runs", "kerf", "sticks"),
    [
        # 5000 in all, two sticks: 1250 + 750 + 500 and 1000 + 750 + 750. First-fit decreasing takes three.
        (((1250, 1), (1000, 1), (750, 3), (500, 1)), 0.0, 2),
        (((1250, 1), (1000, 1), (750, 3), (500, 1)), 3.0, 3),
        # 1600 + 900 fill a stick; with a kerf each 1600 stands alone and the 900 go two by two.
        (((1600, 5), (900, 5)), 0.0, 5),
        (((1600, 5), (900, 5)), 3.0, 8),
        (((1300, 7),), 0.0, 7),
    ],
)
def test_provable_cases(runs: tuple[tuple[float, int], ...], kerf: float, sticks: int) -> None:
    (line,) = bought(STICKS, profile(*runs, kerf=kerf))
    assert line.packs == sticks
    assert line.cutting is not None
    assert (line.cutting.cost, line.cutting.bound, line.cutting.gap) == (line.amount, line.amount, 0)


def test_rooms_are_cut_together() -> None:
    # 1.3 m and 1.1 m share a stick of 2.5 m.
    (line,) = bought(STICKS, profile((1300, 2), room="A"), profile((1100, 2), room="B"))
    assert (line.packs, line.rooms) == (2, ("A", "B"))


def test_the_cheapest_mix_of_two_rolls() -> None:
    # Two strips of 4 m and two of 1 m, rolls of 5 and 12 m: 10 m fit the large one at 100, or two small ones
    # at 45. With a strip of 2 m more these are three at 135, and the large one at 100 is just used up.
    stock = book([product("m", "mat", "m2")], [offer("m", "5", "45.00"), offer("m", "12", "100.00")])
    assert [(x.packs, x.pack_size) for x in bought(stock, mat((4000, 2), (1000, 2)))] == [(2, 5)]
    lines = bought(stock, mat((4000, 2), (1000, 2), (2000, 1)))
    assert [(x.packs, x.pack_size) for x in lines] == [(1, 12)]
    lines = bought(stock, mat((4000, 3), (2000, 2), (1000, 1)))  # 4 + 4 + 2 + 2 and 4 + 1
    assert sorted((x.packs, x.pack_size) for x in lines) == [(1, 5), (1, 12)]
    assert {x.cutting and x.cutting.gap for x in lines} == {0}


def test_area_alone_would_be_too_few_rolls() -> None:
    # Three strips of 3 m are 9 m2, yet a roll of 5 m gives one of them each.
    stock = book([product("m", "mat", "m2")], [offer("m", "5", "45.00")])
    (line,) = bought(stock, mat((3000, 3)))
    assert line.packs == 3
    # The same rolls 1.25 m wide are 4 m long, and half as wide 8 m: one, and two strips of 3 m.
    assert [x.packs for x in bought(stock, mat((3000, 4), width=1250.0))] == [4]
    assert [x.packs for x in bought(stock, mat((3000, 4), width=625.0))] == [2]


def test_narrow_strips_share_a_width_of_roll() -> None:
    # Four rooms of 1.5 x 1.5 m from rolls of 5 m: 4 whole strips, 2 pairs of halves, 9 m. Apart 12 m: three.
    stock = book([product("m", "mat", "m2")], [offer("m", "5", "45.00")])
    one = CutLengths(((1500.0, 1),), width_mm=1000.0, narrow=((1500.0, 500.0, 1),))
    rooms = [Need("mat", "m2", D("3"), rooms=(name,), lengths=one) for name in "ABCD"]
    (line,) = bought(stock, *rooms)
    assert (line.packs, line.cutting and line.cutting.gap) == (2, 0)
    # A strip of 6 x 0.4 m is joined; its two pieces of 5 and 1 m go into one roll beside each other.
    long = Need("mat", "m2", D("6"), lengths=CutLengths((), width_mm=1000.0, narrow=((6000.0, 400.0, 1),)))
    (line,) = bought(stock, long)
    assert (line.packs, line.cutting and line.cutting.joints) == (1, 1)


def test_only_runs_longer_than_the_longest_stick_are_joined() -> None:
    stock = book([product("p", "edge", "m")], [offer("p", "2.5", "10.00"), offer("p", "3", "12.50")])
    (line,) = bought(stock, profile((3000, 1)))
    assert (line.pack_size, line.cutting and line.cutting.joints) == (3, 0)
    lines = bought(stock, profile((6400, 1), least=500.0))  # 3.0 + 2.9 + 0.5, no piece under 0.5
    assert [x.cutting and x.cutting.joints for x in lines] == [2] * len(lines)
    assert sum(x.packs or 0 for x in lines) == 3


@pytest.mark.parametrize(
    ("run", "pieces"),
    [(3000, [2500, 500]), (2600, [2300, 300]), (2500, [2500]), (5100, [2500, 2300, 300]), (200, [200])],
)
def test_split(run: float, pieces: list[float]) -> None:
    assert split(run, 2500.0, 300.0) == pytest.approx(pieces)


def test_a_price_break_is_worth_reaching() -> None:
    # Nine sticks at 10.00 are 90.00, ten at 8.50 are 85.00; eight are 80.00 and stay eight.
    stock = book([product("p", "edge", "m")], [offer("p", "2.5", "10.00", "8.50@10")])
    assert [x.packs for x in bought(stock, profile((2000, 9)))] == [10]
    assert [x.packs for x in bought(stock, profile((2000, 8)))] == [8]


def test_a_quantity_without_lengths_is_one_run() -> None:
    (line,) = bought(STICKS, profile((1300, 1)), Need("edge", "m", D("1.1")))
    assert line.packs == 1


def least_cost(pieces: Sequence[int], offers: Sequence[Offer], kerf: int) -> Decimal:
    """Every parting of the pieces into sticks of every size; prices by the counts that come out."""
    sizes = [int(each.pack_size * 1000) for each in offers]

    def fits(group: Sequence[int], size: int) -> bool:
        return sum(group) + kerf * (len(group) - 1) <= size

    @cache
    def counts(left: tuple[int, ...]) -> frozenset[tuple[int, ...]]:
        if not left:
            return frozenset({(0,) * len(sizes)})
        found = set()
        for more in range(len(left)):
            for rest in set(combinations(range(1, len(left)), more)):
                group = [left[0], *(left[i] for i in rest)]
                others = tuple(x for i, x in enumerate(left) if i and i not in rest)
                for number, size in enumerate(sizes):
                    if fits(group, size):
                        found |= {_one_more(c, number) for c in counts(others)}
        return frozenset(found)

    bounds = [range(len(pieces) + 7)] * len(sizes)
    enough = counts(tuple(sorted(pieces, reverse=True)))
    return min(
        sum((n * pack_price(o, n) for n, o in zip(chosen, offers, strict=True) if n), D(0))
        for chosen in ways(*bounds)
        if any(all(a <= b for a, b in zip(need, chosen, strict=True)) for need in enough)
    )


def _one_more(counts: tuple[int, ...], number: int) -> tuple[int, ...]:
    return tuple(count + (i == number) for i, count in enumerate(counts))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(100, 2500), min_size=1, max_size=6),
    st.sampled_from([0, 3, 40]),
    st.sampled_from(["7.00", "8.10", "10.00"]),
    st.integers(2, 6),
)
def test_no_way_is_cheaper(pieces: list[int], kerf: int, reduced: str, start: int) -> None:
    offers = (offer("p", "2.5", "10.00", f"{reduced}@{start}"), offer("p", "3", "12.50"))
    runs = tuple((float(piece), 1) for piece in pieces)
    mix, cutting = cut_mix(CutLengths(runs, float(kerf)), offers)
    assert mix.cost == least_cost(pieces, offers, kerf)
    assert (cutting.bound, cutting.gap) == (mix.cost, 0)


@given(st.lists(st.integers(100, 9000), min_size=1, max_size=12), st.integers(0, 5))
def test_never_fewer_than_the_lengths_need(pieces: list[int], kerf: int) -> None:
    lengths = CutLengths(tuple((float(piece), 1) for piece in pieces), float(kerf), 300.0)
    mix, cutting = cut_mix(lengths, [offer("p", "2.5", "10.00")])
    assert mix.counts[0] >= ceil(sum(pieces) / 2500)
    assert cutting.bound <= cutting.cost == mix.cost


def test_an_order_of_many_lengths_is_searched() -> None:
    # 120 different lengths, one stick: first fit leaves a gap that the search closes.
    runs = tuple((300.0 + 13.7 * number, 1) for number in range(120))
    mix, cutting = cut_mix(CutLengths(runs, 3.0), [offer("p", "2.5", "10.00")])
    assert (cutting.gap, cutting.bound) == (0, mix.cost)


def test_price_breaks_of_many_lengths_stay_within_the_effort() -> None:
    runs = tuple((300.0 + 13.7 * number, 2) for number in range(60))
    offers = [
        offer("p", "2.5", "10.00", "9.40@20", "9.10@40"),
        offer("p", "3", "12.10", "11.50@20", "11.00@40"),
        offer("p", "4", "16.30", "15.40@20"),
    ]
    (mix, cutting), again = cut_mix(CutLengths(runs, 3.0), offers), cut_mix(CutLengths(runs, 3.0), offers)
    assert (mix, cutting) == again
    # 34 sticks at 9.40; by length alone 84.5 m cost 307.57 at the lowest price of a metre.
    assert (mix.counts, cutting.bound, cutting.gap) == ((34, 0, 0), mix.cost, 0)


def test_many_strips_alike_stay_within_the_effort() -> None:
    # Twelve rooms of 2.5 x 2.5 m, 30 lengths of 2.575 m: rolls of 30 m give 11, of 10 m three, so that
    # three large ones are the least; by length five small ones and a large one would do, for 1094.
    lengths = CutLengths(((2575.0, 24),), width_mm=1000.0, narrow=((2575.0, 500.0, 12),))
    mix, cutting = cut_mix(lengths, [offer("m", "10", "141.00"), offer("m", "30", "389.00")])
    assert mix.counts == (0, 3)
    assert cutting.bound == cutting.cost == D("1167.00")


def test_a_run_is_parted_where_the_rest_fits() -> None:
    # 5.2 m twice and 2.4 m four times are 20 m: 2.6 + 2.4 four times, not 5.0 and 0.2 and the 2.4 by twos.
    mix, cutting = cut_mix(
        CutLengths(((5200.0, 2), (2400.0, 4)), width_mm=1000.0), [offer("m", "5", "84.00")]
    )
    assert (mix.counts, cutting.gap, cutting.joints) == ((4,), 0, 2)


SIZES = st.lists(st.sampled_from(["2", "2.5", "3", "3.6"]), min_size=2, max_size=3, unique=True)


@st.composite
def sold(draw: st.DrawFn) -> list[Offer]:
    """Two or three sizes, each with up to two price breaks."""
    sizes = draw(SIZES)
    prices = [draw(st.integers(550, 650)) * int(D(size) * 10) for size in sizes]
    starts = [sorted(draw(st.sets(st.integers(2, 12), max_size=2))) for _ in sizes]
    return [
        offer(
            "p",
            size,
            f"{price / 1000:.2f}",
            *(f"{price * (98 - 3 * n) / 10**5:.2f}@{start}" for n, start in enumerate(some)),
        )
        for size, price, some in zip(sizes, prices, starts, strict=True)
    ]


@settings(max_examples=12, deadline=None, derandomize=True)
@given(
    sold(),
    st.lists(st.integers(200, 2000), min_size=1, max_size=12),
    st.integers(1, 3),
    st.sampled_from([0.0, 3.0]),
)
def test_never_dearer_than_a_size_alone(
    offers: list[Offer], pieces: list[int], times: int, kerf: float
) -> None:
    lengths = CutLengths(tuple((float(piece), times) for piece in sorted(set(pieces))), kerf)
    cost = cut_mix(lengths, offers)[0].cost
    assert all(cost <= cut_mix(lengths, [alone])[0].cost for alone in offers)


@settings(max_examples=15, deadline=None)
@given(sold(), st.integers(200, 2000), st.integers(1, 12), st.sampled_from([0, 3]))
def test_one_length_is_counted(offers: list[Offer], piece: int, count: int, kerf: int) -> None:
    mix, cutting = cut_mix(CutLengths(((float(piece), count),), float(kerf)), offers)
    gives = [(int(each.pack_size * 1000) + kerf) // (piece + kerf) for each in offers]
    costs = [
        sum((n * pack_price(each, n) for each, n in zip(offers, packs, strict=True) if n), D(0))
        for packs in ways(*(range(max(count // held, 12) + 2) for held in gives))
        if sum(n * held for n, held in zip(packs, gives, strict=True)) >= count
    ]
    assert mix.cost == min(costs) == cutting.bound


@pytest.mark.parametrize("lengths", [20, 50])
def test_price_breaks_of_two_hundred_pieces(lengths: int) -> None:
    # Small and large sticks at about the same price of a metre, breaks at 20 and 60: no dearer than one size.
    order = order_of(200, lengths, 3)
    runs = tuple((each.length, each.count) for each in order)
    offers = [
        offer("p", "2", "15.60", "14.90@20", "14.10@60"),
        offer("p", "2.5", "18.95", "18.10@20", "17.20@60"),
        offer("p", "3", "22.40", "21.40@20", "20.25@60"),
    ]
    mix, cutting = cut_mix(CutLengths(runs, 3.0), offers)
    assert all(mix.cost <= cut_mix(CutLengths(runs, 3.0), [each])[0].cost for each in offers)
    assert cutting.gap < cutting.cost / 50
