"""Taxes by hand: reduced rates, reverse charge, rounding per line and of sums, the minimum charge."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from service.pricing.lines import plain_line
from service.pricing.model import Line, Rounding, TaxRule, Terms, Uplift
from service.pricing.totals import total
from tests.pricing.goods import D

SPLIT = (
    TaxRule("materials", D(20), "materials", reverse_charge=True),
    TaxRule("labour, reduced", D("5.5"), "labour", reverse_charge=True),
)


def at_cost(kind: str, *amounts: str) -> list[Line]:
    return [plain_line(kind, kind, kind, "h", D(1), D(a), Rounding()) for a in amounts]  # type: ignore[arg-type]


def taxes(terms: Terms, lines: list[Line]) -> list[tuple[str, str, str]]:
    _, totals = total(lines, terms)
    return [(str(tax.percent), str(tax.base), str(tax.amount)) for tax in totals.taxes]


def test_a_reduced_rate_has_its_own_base() -> None:
    lines = at_cost("material", "100.00", "50.00") + at_cost("labour", "200.00")
    assert taxes(Terms("t", "t", taxes=SPLIT), lines) == [
        ("20", "150.00", "30.00"),
        ("5.5", "200.00", "11.00"),
    ]


def test_a_discount_lowers_both_bases_alike() -> None:
    lines = at_cost("material", "100.00") + at_cost("labour", "300.00")
    terms = Terms("t", "t", discount_percent=D(10), taxes=SPLIT)
    assert [base for _, base, _ in taxes(terms, lines)] == ["90.00", "270.00"]


@pytest.mark.parametrize(("buyer", "tax", "flag"), [("consumer", "41.00", False), ("business", "0", True)])
def test_under_reverse_charge_a_business_is_charged_rate_and_tax_0(buyer: str, tax: str, flag: bool) -> None:
    """EN 16931-1, BR-AE-05 to 09: category reverse charge has rate 0, tax 0 and the whole base."""
    lines = at_cost("material", "150.00") + at_cost("labour", "200.00")
    _, totals = total(lines, Terms("t", "t", taxes=SPLIT, buyer=buyer))  # type: ignore[arg-type]
    assert (totals.tax, totals.gross) == (D(tax), D(350) + D(tax))
    assert {line.reverse_charge for line in totals.taxes} == {flag}
    assert [line.base for line in totals.taxes] == [D(150), D(200)]


def test_a_tax_that_is_not_reversed_is_charged_to_a_business() -> None:
    terms = Terms("t", "t", taxes=(TaxRule("local", D(2)), *SPLIT), buyer="business")
    _, totals = total(at_cost("material", "100.00"), terms)
    assert [(tax.amount, tax.reverse_charge) for tax in totals.taxes] == [(2, False), (0, True), (0, True)]


def test_per_line_and_of_the_sum_differ_by_the_halves() -> None:
    """Three lines of 0.33 at 20 %: 0.066 each is 0.07, so 0.21 by lines; of 0.99 it is 0.198, so 0.20."""
    lines = at_cost("material", "0.33", "0.33", "0.33")
    terms = Terms("t", "t", taxes=(TaxRule("tax", D(20)),))
    assert taxes(terms, lines) == [("20", "0.99", "0.20")]
    per_line = replace(terms, rounding=Rounding(per="line"))
    assert taxes(per_line, lines) == [("20", "0.99", "0.21")]


@pytest.mark.parametrize(("method", "price"), [("half_up", "1.03"), ("half_even", "1.02")])
def test_a_line_by_itself_is_rounded_by_the_method(method: str, price: str) -> None:
    """1.00 and 2.5 % of it is 1.025."""
    rounding = Rounding(method, per="line")  # type: ignore[arg-type]
    terms = Terms("t", "t", uplifts={"default": Uplift("markup", D("2.5"))}, rounding=rounding)
    lines, totals = total(at_cost("material", "1.00", "1.00"), terms)
    assert [line.price for line in lines] == [D(price), D(price)]
    assert totals.net == 2 * D(price)


@pytest.mark.parametrize(
    ("least", "net", "raised"), [("250", "250", "50"), ("200", "200", "0"), ("9", "200", "0")]
)
def test_a_small_job_is_raised_to_the_minimum_charge(least: str, net: str, raised: str) -> None:
    terms = Terms("t", "t", minimum_charge=D(least), taxes=SPLIT)
    lines, totals = total(at_cost("material", "50.00") + at_cost("labour", "150.00"), terms)
    assert (totals.net, totals.minimum_charge) == (D(net), D(raised))
    assert sum(line.price for line in lines) == totals.net
    assert [line.price for line in lines if line.role == "minimum_charge"] == [D(raised)] * (D(raised) > 0)
    assert sum((tax.base for tax in totals.taxes), Decimal(0)) == totals.net


def test_a_three_decimal_currency_keeps_its_third() -> None:
    terms = Terms("t", "t", taxes=(TaxRule("tax", D(5)),), rounding=Rounding(minor=3))
    line = plain_line("material", "grout", "grout", "kg", D(1), D("1.2345"), terms.rounding)
    _, totals = total([line], terms)
    assert (totals.net, totals.tax) == (D("1.235"), D("0.062"))
