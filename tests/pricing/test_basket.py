"""The basket against every basket there is, and against one model of packs, suppliers and limits."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from service.pricing import price
from service.pricing.buying import Basket, Buying
from service.pricing.model import Need, Offer, PriceBook, PriceBreak, Priced, Supplier, Terms
from tests.pricing.all_baskets import Monolith, all_baskets
from tests.pricing.goods import D, book, need, product

MONEY = st.integers(0, 60).map(lambda value: D(value) / 2)
Case = tuple[list[Need], PriceBook, Buying]


@st.composite
def offers_of(draw: st.DrawFn, product_id: str, supplier: str) -> list[Offer]:
    sizes = draw(st.lists(st.sampled_from(["1", "2.5", "4", "6"]), min_size=1, max_size=2, unique=True))
    found = []
    for size in sizes:
        starts = [1, *draw(st.lists(st.integers(2, 4), max_size=1))]
        breaks = tuple(PriceBreak(start, D(draw(st.integers(50, 3000))) / 100) for start in starts)
        found.append(Offer(supplier, product_id, D(size), breaks, "list-1"))
    return found


@st.composite
def suppliers(draw: st.DrawFn, limits: bool) -> list[Supplier]:
    return [
        Supplier(
            id_,
            f"invented {id_}",
            delivery_charge=draw(MONEY),
            free_delivery_over=draw(st.none() | MONEY) if limits else None,
            minimum_order=draw(st.none() | MONEY) if limits else None,
            freight_per_kg=draw(st.sampled_from([D(0), D("0.5")])),
            carry_in=draw(st.sampled_from([D(0), D(4)])),
        )
        for id_ in ("north", "south", "west")[: draw(st.integers(1, 3))]
    ]


@st.composite
def cases(draw: st.DrawFn, limits: bool = True, preferring: bool = True) -> Case:
    """Up to three roles, some of one system; up to three suppliers, not all of whom sell everything."""
    sellers = draw(suppliers(limits))
    jointly = draw(st.booleans())
    needs, products, offers = [], [], []
    for number in range(draw(st.integers(1, 3))):
        role, wet = ("membrane", "band", "grout")[number], jointly and number < 2
        needs.append(need(role, str(draw(st.integers(1, 24)) / D(2)), one_system=wet))
        for system in ("alpha", "beta"):
            made = product(f"{system}-{role}", role, system=system)
            sold = [draw(offers_of(made.id, s.id)) for s in sellers if draw(st.integers(0, 3))]
            weight = draw(st.sampled_from([None, D(1), D("1.2")]))
            products.append(replace(made, weight_kg=weight))
            offers += [offer for some in sold for offer in some]
    buying = Buying(max_suppliers=draw(st.none() | st.integers(1, 2)))
    if preferring and draw(st.booleans()):
        buying = replace(buying, preferred=("south",), tolerated_extra_percent=D(draw(st.integers(0, 30))))
    return needs, book(products, offers, *sellers), buying


def bought(case: Case) -> Priced:
    needs, stock, buying = case
    return price(needs, (), D(0), stock, Terms("t", "invented"), buying)


def check_against_all(case: Case) -> None:
    needs, stock, buying = case
    found = sorted(all_baskets(needs, stock, buying), key=lambda told: told.judged)
    answer = bought(case)
    if not found:
        assert answer.gaps
        return
    basket = answer.basket
    assert basket is not None
    assert (basket.judged, basket.bound, basket.gap) == (found[0].judged, found[0].judged, 0)
    assert basket.cost in {told.cost for told in found if told.judged == found[0].judged}
    assert answer.totals is not None
    assert answer.totals.materials + answer.totals.delivery == basket.cost
    assert sum((order.goods + order.delivery for order in basket.orders), D(0)) == basket.cost
    check_second(basket, [(told.judged, told.cost) for told in found])


def check_second(basket: Basket, found: list[tuple[Any, Decimal]]) -> None:
    if len(found) == 1:
        assert basket.second_best is None
        return
    assert basket.second_best is not None
    assert basket.second_best.proven
    assert basket.second_best.changes
    assert basket.second_best.cost in {cost for judged, cost in found if judged == found[1][0]}
    assert basket.second_best.extra == basket.second_best.cost - basket.cost


@examples(max_examples=30)
@given(cases())
def test_no_basket_is_judged_at_less(case: Case) -> None:
    check_against_all(case)


@examples(max_examples=30)
@given(cases(limits=False, preferring=False))
def test_one_model_of_packs_and_suppliers_finds_the_same(case: Case) -> None:
    check_against_monolith(case)


def check_against_monolith(case: Case) -> None:
    """With limits the one model may buy more to reach them, which the basket leaves out, and says so."""
    answer, whole = bought(case), None
    if not any(gap.reason == "no_supplier" for gap in answer.gaps):
        whole = Monolith(*case).solve()
    if answer.basket is None:
        assert whole is None or any(seller.minimum_order for seller in case[1].suppliers)
        return
    assert whole is not None
    limited = any(s.free_delivery_over or s.minimum_order for s in case[1].suppliers)
    assert whole <= float(answer.basket.cost) + 1e-4
    if not limited:
        assert abs(whole - float(answer.basket.cost)) < 1e-4
    elif whole < float(answer.basket.cost) - 1e-4:
        assert any("reach a limit" in words for words in answer.basket.left_out)


@pytest.mark.full
@examples(max_examples=500)
@given(cases())
def test_five_hundred_against_every_basket(case: Case) -> None:
    check_against_all(case)


@pytest.mark.full
@examples(max_examples=500)
@given(st.booleans().flatmap(lambda limits: cases(limits=limits, preferring=False)))
def test_five_hundred_against_one_model(case: Case) -> None:
    check_against_monolith(case)
