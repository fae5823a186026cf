"""Hours: the quantities of work, the rates and factors behind them, and their sums."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from service.quoting.explanation.facts import Facts, decimal
from service.quoting.explanation.figures import Figures
from service.quoting.explanation.node import Node, Step, said
from service.quoting.explanation.rooms import inputs_of
from service.quoting.explanation.told import of_work
from service.takeoff.answer import LabourLine
from service.takeoff.factors import Factor, LabourPart

HOURS = (Step(Decimal("0.000000001"), "half_even"), Step(Decimal("0.01"), "half_up"))
RATE = Step(Decimal("0.000000000001"), "half_even")


def add_work(figures: Figures) -> None:
    """Every hour."""
    takeoff = figures.facts.takeoff
    for place, line in enumerate(takeoff.labour):
        _add_work(figures, place, line)
        figures.add(f"/labour/{place}/hours", _hours, figures, place)
        figures.add(f"/labour/{place}/rate", _rate, figures.facts, place)
    figures.add("/labour_hours/total", _sum_of_hours, figures, "hours of the crew", None)
    for driver, _ in takeoff.labour_hours.by_driver:
        by = f"/labour_hours/by_driver/{driver}"
        figures.add(by, _sum_of_hours, figures, f"hours by {driver}", driver)


def _add_work(figures: Figures, place: int, line: LabourLine) -> None:
    here = f"/labour/{place}"
    for number, part in enumerate(line.parts):
        each = f"{here}/parts/{number}"
        figures.add(f"{each}/quantity", _work, figures, line, decimal(part.quantity))
        figures.add(f"{each}/hours_per_unit", _hours_per_unit, figures.facts, line, part)
        for count, factor in enumerate(part.factors):
            figures.add(f"{each}/factors/{count}/factor", _factor, figures.facts, factor)
        plain = (f"{each}/quantity", f"{each}/hours_per_unit")
        figures.add(f"#{each}/plain", _plain, figures, plain)
    figures.add(f"{here}/quantity", _quantity_of_work, figures, place)
    figures.add(f"{here}/base_hours", _base_hours, figures, place)


def _work(figures: Figures, line: LabourLine, value: Decimal) -> Node:
    """A quantity of work with the figures of the rooms that it is taken from."""
    how, rooms = of_work(line.activity), range(len(figures.facts.takeoff.rooms))
    begins = tuple(f"/rooms/{room}/{path}" for room in rooms for path in how.figures)
    held = [figure for figure in figures.known if begins and figure.startswith(begins)]
    parts = figures.all(*held) or tuple(node for room in rooms for node in inputs_of(figures, room))
    words = "; ".join((how.words, *line.reasons))
    return Node("quantity of work", value, line.unit, "measured", words, parts)


def _quantity_of_work(figures: Figures, place: int) -> Node:
    line = figures.facts.takeoff.labour[place]
    if not line.parts:
        return _work(figures, line, decimal(line.quantity))
    parts = figures.all(*(f"/labour/{place}/parts/{n}/quantity" for n in range(len(line.parts))))
    value = sum((part.value for part in parts), Decimal(0))
    return Node("quantity of work", value, line.unit, "sum", "all its parts", parts)


def _hours_per_unit(facts: Facts, line: LabourLine, part: LabourPart) -> Node:
    unit, words = f"h/{line.unit}", f"labour rate {part.rate}"
    return said(
        "hours for a unit of plain work", decimal(part.hours_per_unit), unit, facts.labour_source, words
    )


def _factor(facts: Facts, factor: Factor) -> Node:
    return said(factor.name, decimal(factor.factor), "1", factor.source or facts.labour_source, factor.reason)


def _plain(figures: Figures, of: Sequence[str]) -> Node:
    first, second = parts = figures.all(*of)
    return Node("plain hours", first.value * second.value, "h", "product", "quantity times rate", parts)


def _base_hours(figures: Figures, place: int) -> Node:
    line = figures.facts.takeoff.labour[place]
    value = decimal(line.base_hours).quantize(HOURS[-1].step)
    if not line.parts:
        same = figures[f"/labour/{place}/hours"]
        return Node("hours before factors", value, "h", "round", "there are no factors", (same,))
    parts = figures.all(*(f"#/labour/{place}/parts/{n}/plain" for n in range(len(line.parts))))
    words = "quantities at the table's rates, before the factors"
    return Node("hours before factors", value, "h", "sum", words, parts, steps=HOURS)


def _hours(figures: Figures, place: int) -> Node:
    facts, line = figures.facts, figures.facts.takeoff.labour[place]
    name = f"{line.activity.replace('_', ' ')}: hours"
    if line.activity == "minimum_callout":
        return _callout(figures, line)
    return Node(
        name=name,
        value=decimal(line.hours).quantize(HOURS[-1].step),
        unit="h",
        operation="product",
        words="quantity times hours for a unit",
        parts=figures.all(f"/labour/{place}/quantity", f"/labour/{place}/rate"),
        source=facts.labour_source,
        steps=HOURS,
    )


def _callout(figures: Figures, line: LabourLine) -> Node:
    facts = figures.facts
    least = said(
        "least that a job is charged with", decimal(facts.labour.minimum_hours), "h", facts.labour_source
    )
    others = [
        figures[f"/labour/{place}/hours"]
        for place, other in enumerate(facts.takeoff.labour)
        if other.activity != line.activity
    ]
    words = "what the other hours lack to the least that a job is charged with"
    return Node(
        name="minimum callout: hours",
        value=decimal(line.hours).quantize(HOURS[-1].step),
        unit="h",
        operation="missing",
        words=words,
        parts=(least, *others),
        steps=HOURS[-1:],
    )


def _circumstances(line: LabourLine) -> str:
    """The factors of the line's work with their reasons, and rates of their own."""
    told = [
        f"{part.quantity:g} {line.unit}: {part.hours_per_unit:g} h by {part.rate}"
        + "".join(f", {factor.factor:g} for {factor.reason}" for factor in part.factors)
        for part in line.parts
    ]
    return "; ".join(told)


def _rate(facts: Facts, place: int) -> Node:
    """The table's rate with the factors of the work; a rate that the table lacks stands as it is."""
    line = facts.takeoff.labour[place]
    unit, value = f"h/{line.unit}", decimal(line.rate).quantize(RATE.step)
    row = facts.labour.by_activity.get(line.activity)
    if row is None or not row.hours:
        return said("hours for a unit", value, unit, facts.labour_source)
    table = said(
        "hours for a unit of plain work", decimal(row.hours), unit, facts.labour_source, "labour rate"
    )
    factor = said("how much longer this work takes", value / table.value, "1", _circumstances(line))
    words = "the table's rate times the factors of pattern, tile, rooms and site"
    return Node("hours for a unit", value, unit, "product", words, (table, factor), steps=(RATE,))


def _sum_of_hours(figures: Figures, name: str, driver: str | None) -> Node:
    lines = enumerate(figures.facts.takeoff.labour)
    parts = figures.all(*(f"/labour/{p}/hours" for p, line in lines if driver in (None, line.driver)))
    return Node(
        name, sum((part.value for part in parts), Decimal(0)), "h", "sum", "all hours added up", parts
    )
