"""Materials: what they are the sum of, and the trade values behind them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from service.quoting.explanation.facts import decimal
from service.quoting.explanation.figures import Figures
from service.quoting.explanation.node import Node, Step
from service.quoting.explanation.rooms import inputs_of, trade_values
from service.quoting.explanation.told import of_reason
from service.takeoff.answer import Fitness, Material, Reason, Sticks

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

STICKS = {
    "length_mm": "the length that profiles usually come in",
    "count": "the fewest found for all runs, room by room",
    "bound": "no way to cut the runs takes fewer",
}
"""What is told of the sticks of a profile."""

EXACT = Step(Decimal("0.000001"), "half_even")
"""Quantities are told to a millionth of their unit, without the noise of binary fractions behind it."""


def add_quantities(figures: Figures) -> None:
    """Every material."""
    for place, material in enumerate(figures.facts.takeoff.materials):
        _add_material(figures, place, material)


def _add_material(figures: Figures, place: int, material: Material) -> None:
    here = f"/materials/{place}"
    reasons = [f"{here}/reasons/{number}/quantity" for number in range(len(material.reasons))]
    for figure, reason in zip(reasons, material.reasons, strict=True):
        figures.add(figure, _reason, figures, material, reason)
    figures.add(f"{here}/with_allowance", _material, figures, material, reasons)
    figures.add(f"{here}/required", _required, figures, material)
    if material.sticks is not None:
        _add_sticks(figures, f"{here}/sticks", material, material.sticks)
    for number, fitness in enumerate(material.fitness):
        for name in ("at_least", "at_most"):
            if getattr(fitness, name) is not None:
                figures.add(f"{here}/fitness/{number}/{name}", _fitness, figures, material, fitness, name)


def _add_sticks(figures: Figures, here: str, material: Material, sticks: Sticks) -> None:
    for name, words in STICKS.items():
        figures.add(f"{here}/{name}", _sticks, figures, material, decimal(getattr(sticks, name)), words)
    figures.add(f"{here}/gap", _gap, figures, here, decimal(sticks.gap))


def _sticks(figures: Figures, material: Material, value: Decimal, words: str) -> Node:
    unit = "mm" if words is STICKS["length_mm"] else "piece"
    parts = (*_trade_values(figures, material.role), *_rooms(figures, material.rooms))
    return Node("usual stick", value, unit, "measured", words, parts)


def _gap(figures: Figures, here: str, value: Decimal) -> Node:
    parts = figures.all(f"{here}/count", f"{here}/bound")
    return Node(
        "sticks not proven necessary", value, "piece", "difference", "the count less the bound", parts
    )


def _required(figures: Figures, material: Material) -> Node:
    name = f"{material.role.replace('_', ' ')}, net"
    words = "what the rooms take, before laps, losses and spares"
    return Node(
        name, decimal(material.required), material.unit, "measured", words, _rooms(figures, material.rooms)
    )


def _fitness(figures: Figures, material: Material, fitness: Fitness, name: str) -> Node:
    words = f"limit of what a product must state as {fitness.attribute}, by the rooms that it serves"
    parts = (*_rooms(figures, material.rooms), *_trade_values(figures, material.role))
    value = decimal(getattr(fitness, name))
    return Node(f"{fitness.attribute} {name.replace('_', ' ')}", value, "1", "measured", words, parts)


def _rooms(figures: Figures, names: Sequence[str]) -> tuple[Node, ...]:
    """What was said of these rooms, of all where none is named."""
    rooms = enumerate(figures.facts.takeoff.job.rooms)
    return tuple(
        node for place, room in rooms if room.name in names or not names for node in inputs_of(figures, place)
    )


def _material(figures: Figures, material: Material, reasons: Sequence[str]) -> Node:
    parts = figures.all(*reasons)
    total = Decimal(0) + sum((part.value for part in parts), Decimal(0))
    value = total.quantize(EXACT.step)
    name = f"{material.role.replace('_', ' ')} needed"
    return Node(name, value, material.unit, "sum", "all parts added up", parts, steps=(EXACT,))


def _reason(figures: Figures, material: Material, reason: Reason) -> Node:
    value, path, begins = decimal(reason.quantity), *of_reason(material.role, reason.text)
    rooms = [name for name in material.rooms if reason.text.startswith(f"{name}: ")] or material.rooms
    same = _figure_of(figures, rooms, path)
    if same is not None and same.value == value:
        return Node(reason.text, value, material.unit, "round", "the room's own figure", (same,))
    values = _trade_values(figures, material.role) if begins is None else trade_values(figures, begins)
    words = "worked out of the rooms as they are laid out, by these trade values"
    parts = (*values, *_rooms(figures, rooms))
    return Node(reason.text, value, material.unit, "measured", words, parts)


def _figure_of(figures: Figures, rooms: Sequence[str], path: str | None) -> Node | None:
    """The figure at this path of the one room that is named."""
    places = [place for place, room in enumerate(figures.facts.takeoff.rooms) if room.name in rooms]
    figure = f"/rooms/{places[0]}/{path}" if path and len(places) == 1 else ""
    if figure not in figures:
        return None
    return figures[figure]


def _trade_values(figures: Figures, role: str) -> list[Node]:
    return trade_values(figures, PREFIXES.get(role, ()))
