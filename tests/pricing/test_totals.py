"""The order of money over hundreds of random quotes, against fractions written apart from the service."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import floor

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from service.pricing import price
from service.pricing.lines import plain_line
from service.pricing.model import (
    Allowance,
    Hours,
    Line,
    Rounding,
    Stage,
    TaxRule,
    Terms,
    Totals,
    Uplift,
)
from service.pricing.terms import GROUPS
from service.pricing.totals import total
from tests.pricing.goods import D, book, need, offer, product, supplier

PERCENT = st.decimals(0, 60, places=2)
ROUNDINGS = st.builds(
    Rounding,
    st.sampled_from(["half_up", "half_even"]),
    st.just(2),
    st.sampled_from([None, D("0.05"), D("0.50"), D("1"), D("5")]),
    st.sampled_from(["total", "line"]),
)
UPLIFTS = st.dictionaries(
    st.sampled_from(["tile", "setting", "labour", "delivery", "other", "default"]),
    st.builds(Uplift, st.sampled_from(["markup", "margin"]), PERCENT),
)
TERMS = st.builds(
    Terms,
    id=st.just("t"),
    name=st.just("invented"),
    contingency_percent=PERCENT,
    uplifts=UPLIFTS,
    discount_percent=PERCENT,
    taxes=st.lists(
        st.builds(
            TaxRule, st.just("tax"), PERCENT, st.sampled_from(["materials", "labour", "all"]), st.booleans()
        ),
        max_size=3,
    ).map(tuple),
    minimum_charge=st.none() | st.decimals(0, 2000, places=2),
    buyer=st.sampled_from(["consumer", "business", None]),
    deposit_percent=st.sampled_from([D(0), D(10), D("33.33")]),
    stages=st.sampled_from(
        [(), (D(90),), (D(50), D(40)), (D("33.33"), D("33.34")), (D(20), D(20), D(20)), (D(25), D(25), D(10))]
    ).map(lambda percents: tuple(Stage(f"stage {i}", p) for i, p in enumerate(percents))),
    retention_percent=PERCENT,
    rounding=ROUNDINGS,
)
KINDS = st.sampled_from(
    [("material", role) for role in ("tile", "grout", "membrane", "disposal")]
    + [("delivery", "delivery"), ("labour", "grind"), ("labour", "set_medium")]
)


@st.composite
def lines_at_cost(draw: st.DrawFn) -> list[Line]:
    return [
        plain_line(kind, role, role, "piece", D(1), draw(st.decimals(0, 5000, places=3)), Rounding())  # type: ignore[arg-type]
        for kind, role in draw(st.lists(KINDS, min_size=1, max_size=15))
    ]


def rounded(value: Fraction, rounding: Rounding, step: Fraction = Fraction(1, 100)) -> Fraction:
    """Floor of the value and a half; at a tie the even neighbour where asked."""
    up = floor(value / step + Fraction(1, 2))
    tie = value / step + Fraction(1, 2) == up
    return step * (up - 1 if tie and rounding.method == "half_even" and up % 2 else up)


def rate(terms: Terms, line: Line) -> Fraction:
    """What a currency unit of cost sells for, by the textbook: cost x (1 + markup) or cost / (1 - margin)."""
    group = "labour" if line.kind == "labour" else GROUPS.get(line.role, "other")
    uplift = terms.uplifts.get(group) or terms.uplifts.get("default") or Uplift("markup", D(0))
    part = Fraction(uplift.percent) / 100
    return 1 + part if uplift.method == "markup" else 1 / (1 - part)


def check_sums(lines: tuple[Line, ...], totals: Totals, terms: Terms) -> None:
    """Every total is the exact sum of its parts."""
    for kind, part in (
        ("material", totals.materials),
        ("delivery", totals.delivery),
        ("labour", totals.labour),
    ):
        assert sum(line.amount for line in lines if line.kind == kind) == part
    cost = totals.materials + totals.delivery + totals.labour
    asked = cost + totals.contingency + totals.markup
    assert sum(line.amount for line in lines) == cost
    assert sum(line.price for line in lines if line.kind != "adjustment") == asked
    adjusted = totals.minimum_charge - totals.discount + totals.rounding
    assert asked + adjusted == totals.net == sum(line.price for line in lines)
    assert sum(tax.amount for tax in totals.taxes) == totals.tax
    assert totals.net + totals.tax == totals.gross
    by_rule = {rule.base: tax.base for rule, tax in zip(terms.taxes, totals.taxes, strict=True)}
    if {"materials", "labour"} <= by_rule.keys():
        assert by_rule["materials"] + by_rule["labour"] == totals.net
    assert all(payment.amount >= 0 for payment in totals.stages)
    if terms.stages and sum(s.percent for s in terms.stages) + terms.deposit_percent == 100:
        assert totals.deposit + sum(payment.amount for payment in totals.stages) == totals.gross


def part_of(values: list[Fraction], rate: Fraction, rounding: Rounding) -> Fraction:
    """Of the sum, or of each line, as the terms say."""
    if rounding.per == "line":
        return sum((rounded(value * rate, rounding) for value in values), Fraction(0))
    return rounded(sum(values, Fraction(0)) * rate, rounding)


def check_order(at_cost: list[Line], terms: Terms) -> None:
    """Sums are exact, and each step is reckoned on what the step before it gave."""
    lines, totals = total(at_cost, terms)
    check_sums(lines, totals, terms)
    amounts = [Fraction(line.amount) for line in at_cost]
    held = Fraction(terms.contingency_percent) / 100
    assert totals.contingency == part_of(amounts, held, terms.rounding)
    prices = [Fraction(line.price) for line in lines if line.kind != "adjustment"]
    off = Fraction(terms.discount_percent) / 100
    assert totals.discount == part_of(prices, off, terms.rounding)
    asked = sum(prices, Fraction(0)) - Fraction(totals.discount)
    least = max(asked, Fraction(terms.minimum_charge or 0))
    assert totals.minimum_charge == least - asked
    step = terms.rounding.total_step
    assert totals.net == (least if step is None else rounded(least, terms.rounding, Fraction(step)))
    kept = Fraction(totals.gross) * Fraction(terms.retention_percent) / 100
    assert totals.retention == rounded(kept, terms.rounding)
    for rule, tax in zip(terms.taxes, totals.taxes, strict=True):
        charged = not (rule.reverse_charge and terms.buyer == "business")
        assert (tax.reverse_charge, tax.percent) == (not charged, rule.percent if charged else 0)
        exact = Fraction(tax.base) * Fraction(tax.percent) / 100
        slack = Fraction(len(at_cost) + 1, 200) if terms.rounding.per == "line" else Fraction(1, 200)
        assert abs(Fraction(tax.amount) - exact) <= slack
        assert terms.rounding.per == "line" or tax.amount == rounded(exact, terms.rounding)


@examples(max_examples=500)
@given(lines_at_cost(), TERMS)
def test_totals_are_exact_sums_and_the_order_holds(at_cost: list[Line], terms: Terms) -> None:
    check_order(at_cost, terms)


@pytest.mark.full
@examples(max_examples=10_000)
@given(lines_at_cost(), TERMS)
def test_ten_thousand_totals_are_exact_sums(at_cost: list[Line], terms: Terms) -> None:
    check_order(at_cost, terms)


@examples(max_examples=300)
@given(lines_at_cost(), TERMS)
def test_each_price_is_the_amount_with_its_shares_to_a_few_cents(at_cost: list[Line], terms: Terms) -> None:
    """Unrounded, a price is amount x (1 + contingency) x uplift; sharing out moves it by cents."""
    lines, totals = total(at_cost, terms)
    cost = totals.materials + totals.delivery + totals.labour
    for line in lines:
        if line.kind != "adjustment" and cost:
            with_share = Fraction(line.amount) * (1 + Fraction(totals.contingency) / Fraction(cost))
            slack = Fraction(2, 100) * rate(terms, line) + Fraction(2, 100)
            assert abs(Fraction(line.price) - with_share * rate(terms, line)) <= slack


@given(lines_at_cost(), TERMS)
def test_bases_of_tax_are_in_proportion_to_prices(at_cost: list[Line], terms: Terms) -> None:
    """To a minor unit, or where each line has its own part of net, to one for each."""
    per_line = terms.rounding.per == "line"
    lines, totals = total(at_cost, replace(terms, discount_percent=D(0)) if per_line else terms)
    priced = [line for line in lines if line.kind != "adjustment"]
    asked = sum((line.price for line in priced), D(0))
    work = sum((line.price for line in priced if line.kind == "labour"), D(0))
    for rule, tax in zip(terms.taxes, totals.taxes, strict=True):
        part = {"all": asked, "labour": work, "materials": asked - work}[rule.base]
        if asked:
            exact = Fraction(totals.net) * Fraction(part) / Fraction(asked)
            assert abs(Fraction(tax.base) - exact) < Fraction(len(at_cost) if per_line else 1, 100)


GOODS = book(
    [
        product("t", "tile", "piece"),
        product("m", "membrane", "m2", "alpha"),
        product("a", "tile_mortar", classes=("C2",)),
        product("b", "tile_mortar", classes=("C2",)),
        product("g", "grout"),
    ],
    [
        offer("t", "9", "31.37"),
        offer("m", "5", "81.13", "78.00@4"),
        offer("m", "30", "402.99"),
        offer("a", "25", "19.99", "18.49@10"),
        offer("b", "20", "15.79", supplier="south"),
        offer("g", "5", "17.33", supplier="south"),
    ],
    supplier("north", "49.90", "750"),
    supplier("south", "12.34"),
)
QUANTITY = st.decimals("0.01", 400, places=3)


@examples(max_examples=150)
@given(st.tuples(QUANTITY, QUANTITY, QUANTITY, QUANTITY), st.lists(QUANTITY, max_size=6), TERMS)
def test_whole_quotes_add_up(quantities: tuple[Decimal, ...], hours: list[Decimal], terms: Terms) -> None:
    tile, membrane, mortar, grout = map(str, quantities)
    needs = (
        need("tile", tile, "piece", product="t"),
        need("tile", tile, "piece", area_m2=D(tile) / 11),
        need("membrane", membrane, "m2", one_system=True),
        need("tile_mortar", mortar),
        need("grout", grout),
    )
    work = [Hours(f"activity {i % 3}", "area", time) for i, time in enumerate(hours)]
    allowed = replace(terms, allowances=(Allowance("tile", "m2", D("41.17")),))
    answer = price(needs, work, D("57.30"), GOODS, allowed)
    assert answer.totals is not None
    check_sums(answer.lines, answer.totals, allowed)
    assert {figure.as_tuple().exponent for line in answer.lines for figure in (line.amount, line.price)} == {
        -2
    }


@pytest.mark.parametrize("gross", ["0.00", "0.01", "0.02", "0.03", "0.05", "1.00"])
def test_no_stage_is_below_nothing_where_all_round_up(gross: str) -> None:
    """Of 0.02 a quarter rounds to 0.01 four times over, and more than 0.9 of it is not to be had."""
    terms = Terms(id="t", name="invented", stages=tuple(Stage(f"s{n}", D("22.5")) for n in range(4)))
    line = plain_line("material", "grout", "grout", "piece", D(1), D(gross), Rounding())
    _, totals = total([line], terms)
    amounts = [payment.amount for payment in totals.stages]
    assert min(amounts) >= 0
    assert sum(amounts) == rounded(Fraction(gross) * Fraction(9, 10), terms.rounding)
