"""The US figures of an answer: each the metric one as it is told, over the exact measure of its unit."""

from __future__ import annotations

from decimal import Decimal

from service.quoting.explanation.figures import Figures
from service.quoting.explanation.node import Node, Step, said
from service.units import PER_US_UNIT, us_name

TOLD = {"mm": Step(Decimal("0.01"), "half_even")}
"""To which step a metric figure is told; all others to a thousandth."""
THOUSANDTHS = Step(Decimal("0.001"), "half_even")
QUANTITIES = ("required", "with_allowance", "quantity")
OF_TAKEOFF = ("/rooms/", "/materials/", "/labour/")
SOURCE = "international yard and pound of 1959, exactly (NIST SP 811 B.8)"


def add_us_units(figures: Figures) -> None:
    """Beside every metric figure of the take-off that has one, but for what was said of rooms."""
    metric = [figure for figure in figures.known if figure.startswith(OF_TAKEOFF) and "/room/" not in figure]
    for figure in metric:
        where, _, name = figure.rpartition("/")
        if (named := us_name(name)) is not None:
            told, unit = named
            figures.add(f"{where}/{told}", _converted, figures, figure, unit)
        elif name in QUANTITIES and (unit := _unit_beside(figures, where)) in PER_US_UNIT:
            figures.add(f"{where}/us_{name}", _converted, figures, figure, unit)


def _unit_beside(figures: Figures, where: str) -> str:
    """The unit that stands beside the quantity of a material or of work; none of what is in their parts."""
    _, rows, *place = where.split("/")
    if rows == "rooms" or len(place) != 1:
        return ""
    return str(getattr(figures.facts.takeoff, rows)[int(place[0])].unit)


def _converted(figures: Figures, figure: str, unit: str) -> Node:
    metric = figures[figure]
    step = TOLD.get(unit, THOUSANDTHS)
    shown = metric.value.quantize(step.step)
    words = "the metric figure as it is told"
    as_told = Node(f"{metric.name}, as told", shown, unit, "round", words, (metric,), steps=(step,))
    us_unit, measure = PER_US_UNIT[unit]
    one = said(f"{unit} in one {us_unit}", measure, unit, SOURCE, "by definition")
    name = metric.name.removesuffix(f" {unit}")
    value = (shown / measure).quantize(THOUSANDTHS.step)
    words = f"{unit} over {measure:f} {unit}, which one {us_unit} has"
    return Node(name, value, us_unit, "quotient", words, (as_told, one), steps=(THOUSANDTHS,))
