"""Flatness of the ground, and the compound that makes it flat enough for the tile."""

from __future__ import annotations

from itertools import pairwise

from service.sentence import say
from service.takeoff.answer import Finding, Fitness, Layout, Material, Step, Wait, Work
from service.takeoff.build_up import cable_held
from service.takeoff.falls import screeded
from service.takeoff.geometry import FloorShape
from service.takeoff.parts import joined, material
from service.takeoff.room import Flatness, Room
from service.takeoff.survey import deepest_mm, fill_mm
from service.trade.values import TradeValues


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> Step:
    """Levelling compound or fall screed [kg], its work, wait and findings of one room."""
    return joined(_levelled(room, shape, values), screeded(room, shape, values))


def _levelled(room: Room, shape: FloorShape, values: TradeValues) -> Step:
    found = (_finding(room, values),)
    if not poured(room, values):
        return Step(findings=found)
    area = shape.measures.floor_area_m2
    return Step(
        materials=_compound(room, shape, values),
        work=(Work("level_setup", "fixed", 1, "pour"), Work("level", "area", area, "m2")),
        findings=found,
        waits=(Wait("level", values.number("levelling.wait"), values.citation("levelling.wait")),),
    )


def flatness_key(room: Room, values: TradeValues) -> str:
    """Which limit holds: the finer one as soon as one edge of a tile is large."""
    longest = max(tile.longest_edge for tile in room.tiles)
    large = longest >= values.number("setting.large_format_edge")
    return "levelling.flatness_large" if large else "levelling.flatness"


def allowed_gap_mm(room: Room, under_mm: float, values: TradeValues) -> float:
    """The gap [mm] allowed under a straightedge of length `under_mm`.

    Between two lengths of the standard the limit runs in a straight line; beyond them that of the nearer
    length holds.
    """
    rows = values.table(flatness_key(room, values))
    points = [(float(row["under"]), float(row["gap"])) for row in rows]
    if under_mm <= points[0][0]:
        return points[0][1]
    for (x0, y0), (x1, y1) in pairwise(points):
        if under_mm <= x1:
            return y0 + (y1 - y0) * (under_mm - x0) / (x1 - x0)
    return points[-1][1]


def poured(room: Room, values: TradeValues) -> bool:
    """Whether there is levelling compound: over hollows or a heating cable, not where falls are built."""
    return room.falls == "none" and hollows_mm(room, values) + cable_mm(room, values) > 0


def mean_depth_mm(room: Room, shape: FloorShape, values: TradeValues) -> float:
    """Mean depth of levelling compound [mm]: what fills hollows, and what embeds a heating cable over it.

    0 where the ground is flat enough or unread and no cable is embedded, and where it is built to falls.
    """
    return filling_mm(room, shape, values) + cable_mm(room, values) if poured(room, values) else 0.0


def filling_mm(room: Room, shape: FloorShape, values: TradeValues) -> float:
    """Mean depth that fills the floor's hollows [mm]: by the readings, else a part of the worst gap."""
    deepest, readings = hollows_mm(room, values), room.substrate.levels
    if deepest and readings:
        return fill_mm(readings, shape.floor if shape.laid_out else None)
    return deepest * values.number("levelling.mean_of_worst")


def hollows_mm(room: Room, values: TradeValues) -> float:
    """The deepest hollow that is filled [mm]; 0 where the ground is flat enough or unread.

    Readings of a level count as a gap under the longest straightedge of the standard.
    """
    read = flatness_of(room, values)
    if read is None or read.gap <= allowed_gap_mm(room, read.under, values):
        return 0.0
    return read.gap


def flatness_of(room: Room, values: TradeValues) -> Flatness | None:
    """The worst gap as given; by the readings where a level was read, under the standard's longest edge."""
    if not room.substrate.levels:
        return room.substrate.flatness
    under = max(float(row["under"]) for row in values.table(flatness_key(room, values)))
    return Flatness(deepest_mm(room.substrate.levels), under)


def cable_mm(room: Room, values: TradeValues) -> float:
    """Compound that embeds an electric heating cable [mm]; 0 where the membrane holds it."""
    embedded = room.heating == "electric" and not cable_held(room, values)
    return values.number("levelling.cable_depth") if embedded else 0.0


def compound_kg(area_m2: float, depth_mm: float, values: TradeValues) -> float:
    """Powder [kg] for a mean depth: 12 m2 of 5 mm at 1.7 kg/m2/mm take 102 kg."""
    return area_m2 * depth_mm * values.number("levelling.density")


def _compound(room: Room, shape: FloorShape, values: TradeValues) -> tuple[Material, ...]:
    gap, cable = hollows_mm(room, values), cable_mm(room, values)
    filling, area_m2 = filling_mm(room, shape, values), shape.measures.floor_area_m2
    found = f"{len(room.substrate.levels)} readings down to" if room.substrate.levels else "a worst gap of"
    depths = (
        (f"mean depth {filling:.3g} mm from {found} {gap:g} mm", filling),
        (f"{cable:g} mm that embed the heating cable", cable),
    )
    return material(
        "levelling_compound",
        "kg",
        [(said, compound_kg(area_m2, depth, values)) for said, depth in depths if depth],
        ("loss", values.number("levelling.loss")),
        room=room.name,
        fitness=(Fitness("max_depth_mm", at_least=gap + cable),),
    )


def _finding(room: Room, values: TradeValues) -> Finding:
    source = values.citation(flatness_key(room, values))
    read = flatness_of(room, values)
    if room.falls != "none":
        said = say(
            "The fall screed makes the new surface; check its planes with a straightedge before tiling."
        )
        return Finding("flatness", "condition", said, source)
    if read is None:
        said = say(
            "The flatness is not known and no levelling is priced: "
            "lay a long straightedge on the floor and give the worst gap under it."
        )
        return Finding("flatness", "condition", said, source, "flatness")
    allowed = allowed_gap_mm(room, read.under, values)
    found = say(
        "worst gap {gap:g mm} under {under:g mm}, {allowed:.3g mm} allowed for this tile",
        gap=read.gap,
        under=read.under,
        allowed=allowed,
    )
    wanted = values.number("levelling.straightedge")
    if read.gap <= allowed and read.under < wanted:
        said = say(
            "{found}; how flat the floor is over its length only a straightedge of {wanted:g mm} tells: "
            "lay one.",
            found=found,
            wanted=wanted,
        )
        return Finding("flatness", "condition", said, source, "flatness")
    if read.gap <= allowed:
        return Finding("flatness", "pass", f"Flat enough: {found}.", source)
    said = say("Levelled before tiling, bonding mortar does not flatten a floor: {found}.", found=found)
    return Finding("flatness", "condition", said, source)
