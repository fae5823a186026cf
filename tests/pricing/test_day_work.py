"""Hours at day-work rates, reckoned by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from service.pricing.lines import day_work_lines, plain_line
from service.pricing.model import DayWork, Extra, Rounding, Terms, Uplift
from service.pricing.totals import total

D = Decimal
TILER, HELPER = DayWork("Tiler", D("68.00")), DayWork("Helper", D("41.35"))
TERMS = Terms(
    "t",
    "with day work",
    contingency_percent=D(5),
    uplifts={"default": Uplift("markup", D(20)), "labour": Uplift("margin", D(35))},
    discount_percent=D(10),
    day_work=(TILER, HELPER),
)
EXTRAS = (Extra("Taking down a wall", HELPER, D("3.5")), Extra("Mending screed", TILER, D("1.25")))


def test_day_work_is_charged_at_its_rate_and_counts_in_every_total() -> None:
    """3.5 x 41.35 = 144.725 -> 144.73; 1.25 x 68 = 85.00. At cost 133.00 + 47.50 = 180.50 and goods of 80;
    contingency 5 % of 260.50 = 13.025 -> 13.03. Goods 84.00 and 20 % = 100.80. All 330.53, less 10 % = 33.053
    -> 33.05: net 297.48.
    """
    goods = plain_line("material", "grout", "grout", "bag", D(2), D("40"), Rounding())
    lines, totals = total([goods, *day_work_lines(EXTRAS, D(38), Rounding())], TERMS)
    assert [line.price for line in lines[:3]] == [D("100.80"), D("144.73"), D("85.00")]
    assert [line.note for line in lines[1:3]] == ["Helper", "Tiler"]
    assert (totals.labour, totals.contingency, totals.discount) == (D("180.50"), D("13.03"), D("33.05"))
    assert totals.net == D("297.48")


HOURS = st.lists(st.decimals("0.01", 200, places=2), min_size=1, max_size=8)


@given(HOURS, st.sampled_from(["total", "line"]))
def test_lines_add_up_to_net(hours: list[Decimal], per: str) -> None:
    rounding = Rounding(per=per)  # type: ignore[arg-type]
    terms = replace(TERMS, rounding=rounding)
    extras = [Extra("work", TILER, each) for each in hours]
    lines, totals = total(day_work_lines(extras, D("38.10"), rounding), terms)
    assert sum(line.price for line in lines) == totals.net
    assert sum(line.amount for line in lines) == totals.labour
    assert totals.labour + totals.contingency + totals.markup - totals.discount == totals.net
