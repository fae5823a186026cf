"""Pack mixes against every mix there is."""

from __future__ import annotations

from decimal import Decimal
from itertools import product
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.pricing.model import Offer, PriceBreak
from service.pricing.packs import pack_mix, pack_price
from service.pricing.sets import set_mix
from tests.pricing.goods import D, offer


def every_mix(quantity: Decimal, offers: list[Offer]) -> tuple[Decimal, int, tuple[int, ...]]:
    """Brute force: the least (cost, packs) of all counts that cover the quantity."""
    reach = [max(ceil(quantity / o.pack_size), o.breaks[-1].min_packs) for o in offers]
    covering = (
        counts
        for counts in product(*(range(top + 1) for top in reach))
        if sum((n * o.pack_size for n, o in zip(counts, offers, strict=True)), D(0)) >= quantity
    )
    return min((cost_of(counts, offers), sum(counts), counts) for counts in covering)


def cost_of(counts: tuple[int, ...], offers: list[Offer]) -> Decimal:
    return sum((n * pack_price(o, n) for n, o in zip(counts, offers, strict=True) if n), D(0))


SIZES = ["1", "1.5", "2", "2.5", "3", "5", "7.5", "12"]


@st.composite
def offers_of_one_product(draw: st.DrawFn) -> list[Offer]:
    sizes = draw(st.lists(st.sampled_from(SIZES), min_size=1, max_size=3, unique=True))
    return [Offer("north", "p", D(size), draw(price_breaks()), "list") for size in sizes]


@st.composite
def price_breaks(draw: st.DrawFn) -> tuple[PriceBreak, ...]:
    """Up to three, and not always falling: a wrong list must still be priced as it stands."""
    starts = [1, *sorted(draw(st.sets(st.integers(2, 7), max_size=2)))]
    return tuple(PriceBreak(start, D(draw(st.integers(1, 999))) / 100) for start in starts)


QUANTITIES = st.integers(0, 200).map(lambda tenths: D(tenths) / 10)


@given(QUANTITIES, offers_of_one_product())
def test_no_mix_is_cheaper_and_none_as_cheap_has_fewer_packs(quantity: Decimal, offers: list[Offer]) -> None:
    mix = pack_mix(quantity, offers)
    cost, packs, _ = every_mix(quantity, offers)
    assert (mix.cost, sum(mix.counts)) == (cost, packs)
    assert mix.cost == cost_of(mix.counts, offers)
    assert sum(n * o.pack_size for n, o in zip(mix.counts, offers, strict=True)) >= quantity


@given(QUANTITIES, offers_of_one_product(), st.data())
def test_a_dearer_price_never_makes_a_cheaper_optimum(
    quantity: Decimal, offers: list[Offer], data: st.DataObject
) -> None:
    i = data.draw(st.integers(0, len(offers) - 1))
    j = data.draw(st.integers(0, len(offers[i].breaks) - 1))
    old = list(offers[i].breaks)
    old[j] = PriceBreak(old[j].min_packs, old[j].price + data.draw(st.integers(1, 500)) / D(100))
    dearer = [*offers]
    dearer[i] = Offer("north", "p", offers[i].pack_size, tuple(old), "list")
    assert pack_mix(quantity, dearer).cost >= pack_mix(quantity, offers).cost


@given(QUANTITIES, QUANTITIES, offers_of_one_product())
def test_more_never_costs_less(one: Decimal, other: Decimal, offers: list[Offer]) -> None:
    less, more = sorted((one, other))
    assert pack_mix(less, offers).cost <= pack_mix(more, offers).cost


@given(QUANTITIES, offers_of_one_product())
def test_the_order_of_the_offers_does_not_matter(quantity: Decimal, offers: list[Offer]) -> None:
    forth, back = pack_mix(quantity, offers), pack_mix(quantity, offers[::-1])
    assert forth.cost == back.cost
    assert forth.counts == back.counts[::-1]


def test_buying_up_to_a_break_is_cheaper_than_buying_enough() -> None:
    mix = pack_mix(D(7), [offer("p", "1", "10.00", "6.00@10")])
    assert (mix.counts, mix.cost) == ((10,), D("60.00"))


def test_equal_cost_takes_fewer_packs() -> None:
    mix = pack_mix(D(20), [offer("p", "5", "10"), offer("p", "20", "40")])
    assert mix.counts == (0, 1)


def test_noise_of_binary_arithmetic_buys_no_further_pack() -> None:
    assert pack_mix(D(0.1 + 0.2) * 10, [offer("p", "3", "1")]).counts == (1,)
    assert pack_mix(D("3.00000001"), [offer("p", "3", "1")]).counts == (2,)


@pytest.mark.parametrize(
    ("quantity", "offers", "counts"),
    [
        ("2000", [offer("p", "1", "3.1", "2.9@50"), offer("p", "8", "23", "21.5@20")], (0, 250)),
        ("61", [offer("p", "5.05", "70"), offer("p", "30.12", "390")], (1, 2)),  # 60.24 in rolls, 0.76 more
    ],
)
def test_sizes_without_a_round_common_measure(
    quantity: str, offers: list[Offer], counts: tuple[int, ...]
) -> None:
    assert pack_mix(D(quantity), offers).counts == counts


def test_a_price_list_without_a_price_for_the_first_pack_is_refused() -> None:
    with pytest.raises(ValueError, match="begin at one pack"):
        pack_mix(D(1), [offer("p", "1", "5.00@3")])


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(0, 90), min_size=1, max_size=3),
    st.lists(st.integers(5, 40), min_size=1, max_size=3, unique=True),
)
def test_sets_fill_each_room_as_far_as_they_can(rooms: list[int], sizes: list[int]) -> None:
    """Against every number of sets of each size, in tenths of a square metre; the dearer the larger."""
    offers = [offer("c", str(D(size) / 10), str(20 + 3 * size)) for size in sizes]
    mix = set_mix([D(room) / 10 for room in rooms], offers)
    bought, cost = sum(n * size for n, size in zip(mix.counts, sizes, strict=True)), D(0)
    most = 0
    for room in rooms:
        each = [
            (sum(n * s for n, s in zip(counts, sizes, strict=True)), counts)
            for counts in product(*(range(room // size + 1) for size in sizes))
        ]
        full = max(total for total, _ in each if total <= room)
        most += full
        cost += min(
            sum((n * (20 + 3 * s) for n, s in zip(counts, sizes, strict=True)), D(0))
            for total, counts in each
            if total == full
        )
    assert (bought, mix.cost) == (most, cost)
