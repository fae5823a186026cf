"""Flatness of the ground, and the compound that makes it flat enough for the tile."""

from __future__ import annotations

from itertools import pairwise

from service.takeoff.answer import Finding, Fitness, Layout, Material, Step, Wait, Work
from service.takeoff.falls import screeded
from service.takeoff.geometry import FloorShape
from service.takeoff.parts import joined, material
from service.takeoff.room import Room
from service.trade.values import TradeValues


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> Step:
    """Levelling compound or fall screed [kg], its work, wait and findings of one room."""
    return joined(_levelled(room, shape, values), screeded(room, shape, values))


def _levelled(room: Room, shape: FloorShape, values: TradeValues) -> Step:
    found = (_finding(room, values),)
    depth = mean_depth_mm(room, values)
    if not depth:
        return Step(findings=found)
    area = shape.measures.floor_area_m2
    return Step(
        materials=_compound(room, area, depth, values),
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


def mean_depth_mm(room: Room, values: TradeValues) -> float:
    """Mean depth of levelling compound [mm]; 0 where the ground is flat enough, unread, or built to falls."""
    read = room.substrate.flatness
    if read is None or room.falls != "none" or read.gap <= allowed_gap_mm(room, read.under, values):
        return 0.0
    return read.gap * values.number("levelling.mean_of_worst")


def compound_kg(area_m2: float, depth_mm: float, values: TradeValues) -> float:
    """Powder [kg] for a mean depth: 12 m2 of 5 mm at 1.7 kg/m2/mm take 102 kg."""
    return area_m2 * depth_mm * values.number("levelling.density")


def _compound(room: Room, area_m2: float, depth: float, values: TradeValues) -> tuple[Material, ...]:
    gap = depth / values.number("levelling.mean_of_worst")
    part = (f"mean depth {depth:g} mm from a worst gap of {gap:g} mm", compound_kg(area_m2, depth, values))
    return material(
        "levelling_compound",
        "kg",
        [part],
        ("loss", values.number("levelling.loss")),
        room=room.name,
        fitness=(Fitness("max_depth_mm", at_least=gap),),
    )


def _finding(room: Room, values: TradeValues) -> Finding:
    source = values.citation(flatness_key(room, values))
    read = room.substrate.flatness
    if room.falls != "none":
        said = "The fall screed makes the new surface; check its planes with a straightedge before tiling."
        return Finding("flatness", "condition", said, source)
    if read is None:
        said = (
            "The flatness is not known and no levelling is priced: "
            "lay a long straightedge on the floor and give the worst gap under it."
        )
        return Finding("flatness", "condition", said, source, "flatness")
    allowed = allowed_gap_mm(room, read.under, values)
    found = f"worst gap {read.gap:g} mm under {read.under:g} mm, {allowed:.3g} mm allowed for this tile"
    if read.gap <= allowed:
        return Finding("flatness", "pass", f"Flat enough: {found}.", source)
    said = f"Levelled before tiling, bonding mortar does not flatten a floor: {found}."
    return Finding("flatness", "condition", said, source)
