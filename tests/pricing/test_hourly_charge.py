"""Hours that are charged at a rate of their own, reckoned by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pricing.lines import plain_line
from service.pricing.model import Rounding, Terms, Uplift
from service.pricing.totals import total

D = Decimal
TERMS = Terms(
    "t",
    "by the hour",
    contingency_percent=D(5),
    uplifts={"default": Uplift("markup", D(20)), "labour": Uplift("margin", D(35))},
    hourly_charge=D("62.50"),
)
AT_COST = [
    plain_line("material", "grout", "grout", "bag", D(2), D("40"), Rounding()),
    plain_line("labour", "set_large", "set large", "h", D("7.35"), D("38"), Rounding()),
    plain_line("labour", "grout", "grout", "h", D("1.13"), D("38"), Rounding()),
]


def test_hours_cost_the_customer_their_charge() -> None:
    """7.35 x 62.50 = 459.375 -> 459.38; 1.13 x 62.50 = 70.625 -> 70.63 (halves up). At cost 279.30 + 42.94 =
    322.24; contingency 5 % of 402.24 = 20.112 -> 20.11; goods 80 + 4.00 = 84 with 20 % = 100.80.
    """
    lines, totals = total(AT_COST, TERMS)
    assert [line.price for line in lines] == [D("100.80"), D("459.38"), D("70.63")]
    assert (totals.materials, totals.labour, totals.contingency) == (D("80.00"), D("322.24"), D("20.11"))
    assert totals.net == D("630.81")
    assert totals.markup == D("630.81") - D("402.24") - D("20.11")
    assert [line.note for line in lines] == ["", *["Charged at 62.5 an hour."] * 2]


def test_a_charge_below_cost_shows_as_less_than_nothing_earned() -> None:
    _, totals = total(AT_COST[1:], replace(TERMS, hourly_charge=D(30)))
    assert totals.net == D("220.50") + D("33.90")
    assert totals.markup < 0
    assert totals.labour + totals.contingency + totals.markup == totals.net


@given(
    st.lists(st.decimals("0.01", 500, places=2), min_size=1, max_size=12),
    st.decimals(0, 300, places=4),
    st.decimals(0, 50, places=2),
    st.sampled_from(["total", "line"]),
)
def test_parts_add_up_and_the_uplift_of_labour_counts_for_nothing(
    hours: list[D], charge: D, discount: D, per: str
) -> None:
    rounding = Rounding(per=per)  # type: ignore[arg-type]
    terms = replace(TERMS, hourly_charge=charge, discount_percent=discount, rounding=rounding)
    at_cost = [
        plain_line("labour", f"a{n}", "work", "h", each, D(41), rounding) for n, each in enumerate(hours)
    ]
    lines, totals = total(at_cost, terms)
    paid = [line.price for line in lines if line.kind == "labour"]
    assert all(abs(price - each * charge) <= D("0.005") for price, each in zip(paid, hours, strict=True))
    parts = totals.labour + totals.contingency + totals.markup - totals.discount
    assert parts == totals.net == sum(line.price for line in lines)
    assert total(at_cost, replace(terms, uplifts={}))[1] == totals


@pytest.mark.parametrize("charge", [None, D("62.50")])
def test_without_a_charge_the_terms_uplift_it(charge: D | None) -> None:
    lines, _ = total(AT_COST[1:2], replace(TERMS, hourly_charge=charge, contingency_percent=D(0)))
    assert lines[0].price == (D("459.38") if charge else D("429.69"))  # 279.30 / 0.65
