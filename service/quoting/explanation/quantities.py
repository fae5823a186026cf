"""Materials and hours: what they are the sum of, and the trade values and rates behind them."""

from __future__ import annotations

from decimal import Decimal

from service.quoting.explanation.facts import Facts, decimal
from service.quoting.explanation.figures import Figures
from service.quoting.explanation.node import Node, Step, said
from service.takeoff.answer import LabourLine, Material, Reason

PREFIXES: dict[str, tuple[str, ...]] = {
    "tile": ("setting.breakage", "setting.attic_stock", "layout.waste."),
    "skirting_tile": ("skirting.",),
    "membrane": ("membrane.",),
    "band": ("waterproofing.band_",),
    "inside_corner": ("waterproofing.",),
    "outside_corner": ("waterproofing.jamb_corners",),
    "perimeter_strip": ("perimeter_strip.",),
    "membrane_mortar": ("mortar.",),
    "tile_mortar": ("mortar.", "membrane.thickness."),
    "band_mortar": ("mortar.", "waterproofing.band_"),
    "grout": ("grout.",),
    "sealant": ("sealant.", "movement_joints.width.", "movement_joints.perimeter_width"),
    "backer_rod": ("sealant.",),
    "bond_breaker_tape": ("sealant.",),
    "movement_joint_profile": ("profiles.", "movement_joints.spacing."),
    "edge_profile": ("profiles.",),
    "transition_profile": ("profiles.",),
    "skirting_profile": ("profiles.",),
    "profile_fitting": ("profiles.",),
    "levelling_compound": ("levelling.",),
    "fall_screed": ("falls.", "waterproofing.fall"),
    "primer": ("primer.",),
    "protection": ("site.",),
}
"""Beginnings of the keys of the trade values that bear on a role's quantity."""

EXACT = Step(Decimal("0.000001"), "half_even")
"""Quantities are told to a millionth of their unit, without the noise of binary fractions behind it."""
HOURS = (Step(Decimal("0.000000001"), "half_even"), Step(Decimal("0.01"), "half_up"))
RATE = Step(Decimal("0.000000000001"), "half_even")


def add_quantities(figures: Figures) -> None:
    """Every material and every hour."""
    takeoff = figures.facts.takeoff
    for place, material in enumerate(takeoff.materials):
        figures.add(f"/materials/{place}/with_allowance", _material, figures.facts, material)
    for place in range(len(takeoff.labour)):
        figures.add(f"/labour/{place}/hours", _hours, figures, place)
        figures.add(f"/labour/{place}/rate", _rate, figures.facts, place)
    figures.add("/labour_hours/total", _sum_of_hours, figures, "hours of the crew", None)
    for driver, _ in takeoff.labour_hours.by_driver:
        by = f"/labour_hours/by_driver/{driver}"
        figures.add(by, _sum_of_hours, figures, f"hours by {driver}", driver)


def _material(facts: Facts, material: Material) -> Node:
    parts = [_reason(facts, material, reason) for reason in material.reasons]
    total = Decimal(0) + sum((part.value for part in parts), Decimal(0))
    value = total.quantize(EXACT.step)
    name = f"{material.role.replace('_', ' ')} needed"
    return Node(name, value, material.unit, "sum", "all parts added up", tuple(parts), steps=(EXACT,))


def _reason(facts: Facts, material: Material, reason: Reason) -> Node:
    words = "worked out of the rooms as they are laid out, by these trade values"
    values = tuple(_trade_values(facts, material.role))
    return Node(reason.text, decimal(reason.quantity), material.unit, "measured", words, values)


def _trade_values(facts: Facts, role: str) -> list[Node]:
    begins = PREFIXES.get(role, ())
    held = [value for key, value in facts.values.by_key.items() if begins and key.startswith(begins)]
    numbers = [value for value in held if isinstance(value.value, int | float)]
    return [
        said(v.key, decimal(v.value), v.unit, f"{v.citation}, from {v.from_date.isoformat()}", "trade value")
        for v in numbers
    ]


def _hours(figures: Figures, place: int) -> Node:
    facts, line = figures.facts, figures.facts.takeoff.labour[place]
    name = f"{line.activity.replace('_', ' ')}: hours"
    if line.activity == "minimum_callout":
        return _callout(figures, line)
    measured = "worked out of the rooms as they are laid out"
    quantity = Node("quantity of work", decimal(line.quantity), line.unit, "measured", measured)
    return Node(
        name=name,
        value=decimal(line.hours).quantize(HOURS[-1].step),
        unit="h",
        operation="product",
        words="quantity times hours for a unit",
        parts=(quantity, figures[f"/labour/{place}/rate"]),
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
