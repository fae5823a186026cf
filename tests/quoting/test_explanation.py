"""Every figure of a quote follows from its explanation alone, on whatever terms the office has."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.api.schemas.explanation import _told
from service.pricing.lines import plain_line
from service.pricing.model import Allowance, Line, Rounding, Stage, TaxRule, Terms, Uplift
from service.pricing.totals import total
from service.quoting.explanation import Facts, figures_of
from service.quoting.needs import exact, hours_of
from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.room import Job
from tests.quoting.evaluator import rebuilt
from tests.takeoff.rooms import DRY_RECTANGLE, LABOUR, VALUES, WET_L

MONEY = st.decimals("0", "400", places=2)
PERCENT = st.decimals("0", "60", places=2)
GROUPS = ("default", "tile", "setting", "waterproofing", "labour", "delivery")


@cache
def taken() -> Takeoff:
    return take_off(Job((DRY_RECTANGLE, WET_L)), VALUES, LABOUR)


@st.composite
def some_terms(draw: st.DrawFn) -> Terms:
    stages = draw(st.sampled_from([(), ("40",), ("40", "30"), ("33.33", "20", "16.67")]))
    tax_bases = draw(st.lists(st.sampled_from(["materials", "labour", "all"]), max_size=3))
    return Terms(
        id="",
        name="invented",
        contingency_percent=draw(PERCENT),
        uplifts={
            group: Uplift(draw(st.sampled_from(["markup", "margin"])), draw(PERCENT))
            for group in draw(st.sets(st.sampled_from(GROUPS)))
        },
        discount_percent=draw(PERCENT),
        minimum_charge=draw(st.none() | st.decimals("0", "9000", places=3)),
        taxes=tuple(
            TaxRule(f"tax {n}", draw(PERCENT), base, draw(st.booleans()))  # type: ignore[arg-type]
            for n, base in enumerate(tax_bases)
        ),
        buyer=draw(st.sampled_from(["consumer", "business"])),
        deposit_percent=draw(st.sampled_from([Decimal(0), Decimal(30), Decimal("12.5")])),
        stages=tuple(Stage(f"stage {n}", Decimal(percent)) for n, percent in enumerate(stages)),
        retention_percent=draw(PERCENT),
        allowances=(Allowance("tile", "m2", Decimal(42)),),
        rounding=Rounding(
            draw(st.sampled_from(["half_up", "half_even"])),
            draw(st.sampled_from([0, 2, 3])),
            draw(st.sampled_from([None, Decimal(5), Decimal("0.05")])),
            draw(st.sampled_from(["total", "line"])),
        ),
    )


@st.composite
def lines_at_cost(draw: st.DrawFn, terms: Terms) -> list[Line]:
    takeoff = taken()
    material = [
        plain_line("material", m.role, m.role, m.unit, exact(m.with_allowance), draw(MONEY), terms.rounding)
        for m in takeoff.materials
        if draw(st.booleans())
    ]
    delivery = [
        plain_line("delivery", "delivery", "by van", "order", Decimal(1), draw(MONEY), terms.rounding)
    ]
    work = [
        plain_line("labour", h.activity, h.activity, "h", h.hours, LABOUR.hourly_cost, terms.rounding)
        for h in hours_of(takeoff.labour)
    ]
    return [*material, *delivery, *work]


def told(facts: Facts, figure: str) -> dict[str, Any]:
    return _told(figures_of(facts)[figure], set())


def facts(lines: Any, totals: Any, terms: Terms) -> Facts:
    return Facts(taken(), lines, totals, terms, LABOUR, VALUES, {}, "USD", date(2026, 6, 1).isoformat())


@settings(max_examples=8, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_every_total_is_rebuilt_from_its_explanation_alone(data: st.DataObject) -> None:
    check_totals(data)


@pytest.mark.full
@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_every_total_is_rebuilt_on_many_terms(data: st.DataObject) -> None:
    check_totals(data)


def check_totals(data: st.DataObject) -> None:
    terms = data.draw(some_terms())
    lines, totals = total(data.draw(lines_at_cost(terms)), terms)
    known = facts(lines, totals, terms)
    wanted = {
        **{f"/totals/{name}": getattr(totals, name) for name in
           ("materials", "delivery", "labour", "contingency", "markup", "discount", "minimum_charge",
            "rounding", "net", "tax", "gross", "deposit", "retention")},
        **{f"/totals/taxes/{n}/amount": tax.amount for n, tax in enumerate(totals.taxes)},
        **{f"/totals/taxes/{n}/base": tax.base for n, tax in enumerate(totals.taxes)},
        **{f"/totals/stages/{n}/amount": stage.amount for n, stage in enumerate(totals.stages)},
        **{f"/lines/{n}/price": line.price for n, line in enumerate(lines)},
    }  # fmt: skip
    figures, seen = figures_of(known), set[str]()
    found = rebuilt({"parts": [_told(figures[figure], seen) for figure in wanted]})
    for figure, value in wanted.items():
        assert found[figure] == Fraction(value), figure


def test_every_material_and_hour_is_rebuilt() -> None:
    known, takeoff = facts((), None, Terms("", "")), taken()
    for place, material in enumerate(takeoff.materials):
        figure = f"/materials/{place}/with_allowance"
        assert rebuilt(told(known, figure))[figure] == Fraction(exact(material.with_allowance)), material.role
    for place, line in enumerate(takeoff.labour):
        figure = f"/labour/{place}/hours"
        assert round(float(rebuilt(told(known, figure))[figure]), 2) == line.hours, line.activity
    hours = "/labour_hours/total"
    assert float(rebuilt(told(known, hours))[hours]) == takeoff.labour_hours.total


def test_trade_values_stand_with_their_source() -> None:
    known = facts((), None, Terms("", ""))
    place = next(p for p, m in enumerate(taken().materials) if m.role == "grout")
    reason = told(known, f"/materials/{place}/with_allowance")["parts"][0]
    density = next(part for part in reason["parts"] if part["name"] == "grout.density")
    assert (density["value"], density["unit"]) == ("1.6", "kg/l")
    assert "from memory" in density["source"]
