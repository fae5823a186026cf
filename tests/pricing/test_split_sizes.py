"""Sizes taken out of an opened pack, among goods that are cut to length."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from service.cutting.runs import CutLengths
from service.pricing import price
from service.pricing.model import Terms
from service.pricing.split_sizes import cut_with_split
from tests.pricing.goods import D, book, offer, product, supplier
from tests.pricing.test_cut_to_length import bought, least_cost, profile


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(100, 2500), min_size=1, max_size=5),
    st.sampled_from(["0.50", "3.00", "9.00"]),
    st.sampled_from([(1,), (0,), (0, 1)]),
)
def test_opening_a_pack_is_weighed_against_a_whole_one(
    pieces: list[int], surcharge: str, split: tuple[int, ...]
) -> None:
    """Brute force: each choice of sizes, with the surcharge for each split one in it."""
    whole = (offer("p", "2.5", "6.00"), offer("p", "5", "15.00"))
    offers = [replace(each, split=number in split) for number, each in enumerate(whole)]
    runs = tuple((float(piece), 1) for piece in pieces)
    mix, cutting = cut_with_split(CutLengths(runs), offers, D(surcharge))
    sets = [(offers[0],), (offers[1],), tuple(offers)]
    costs = [least_cost(pieces, some, 0) + D(surcharge) * sum(each.split for each in some) for some in sets]
    assert mix.cost == min(costs)
    assert (cutting.cost, cutting.bound, cutting.gap) == (mix.cost, mix.cost, 0)


def test_what_opening_costs_is_on_the_quote() -> None:
    # Three pieces of 2 m: singly out of an opened pack 3 x 6.00 and 9.00, a whole bundle of 7.5 m is 20.00.
    dear = replace(supplier("one"), split_pack_surcharge=D("9.00"))
    single = replace(offer("p", "2.5", "6.00", supplier="one"), split=True)
    stock = book([product("p", "edge", "m")], [single, offer("p", "7.5", "20.00", supplier="one")], dear)
    assert [(x.packs, x.pack_size) for x in bought(stock, profile((2000, 3)))] == [(1, D("7.5"))]
    near = book(
        [product("p", "edge", "m")], list(stock.offers), replace(dear, split_pack_surcharge=D("1.50"))
    )
    lines = price([profile((2000, 3))], (), D(50), near, Terms("t", "invented")).lines
    assert [(x.kind, x.packs, x.amount) for x in lines if x.amount] == [
        ("material", 3, D("18.00")),
        ("delivery", None, D("1.50")),
    ]
