"""The stretches of wall that skirting runs along, and the floor's joints that its own line up with."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from service.takeoff.answer import Lattice, Layout
from service.takeoff.boundary import STRAIGHT_ON, Part, PartRing, turn
from service.takeoff.geometry import FloorShape
from service.takeoff.room import Point

PARALLEL = 1e-3
"""The sine of the angle between a wall and the tile under which they run alike."""

SAME_MM = 0.5  # two pitches that differ by less keep in step along a wall


@dataclass(frozen=True, slots=True)
class Stretch:
    """Wall or restraining obstruction from corner to corner or jamb: its length [mm] and where it is."""

    start: Point
    end: Point
    length: float
    place: str
    round: bool


@dataclass(frozen=True, slots=True)
class Step:
    """Strips along a stretch: length of one and pitch [mm], and where on the first one the stretch begins."""

    strip: float
    pitch: float
    begins: float
    lined_up: bool


def stretches(shape: FloorShape) -> list[Stretch]:
    """Around the floor, ring by ring; a round column is one stretch."""
    runs = [run for rings in shape.boundary for ring in rings for run in _runs(ring)]
    return [
        Stretch(run[0].start, run[-1].end, math.fsum(p.length for p in run), _place(run[0]), run[0].round)
        for run in runs
    ]


def _runs(ring: PartRing) -> Iterator[list[Part]]:
    run: list[Part] = []
    for part in _from_a_corner(ring):
        if run and not _goes_on(run[-1], part):
            yield run
            run = []
        if part.restrained:
            run.append(part)
    if run:
        yield run


def _from_a_corner(ring: PartRing) -> PartRing:
    """The ring from a part on that does not go on from the one before it."""
    starts = (i for i, part in enumerate(ring) if not _goes_on(ring[i - 1], part))
    first = next(starts, 0)
    return ring[first:] + ring[:first]


def _goes_on(before: Part, after: Part) -> bool:
    same = before.restrained and after.restrained and before.source == after.source
    facets = before.round and after.round
    return same and before.kind == after.kind and (facets or abs(turn(before, after)) <= STRAIGHT_ON)


def _place(part: Part) -> str:
    return f"wall {part.source}" if part.kind == "wall" else f"obstruction {part.source}"


def step_along(stretch: Stretch, layout: Layout, strip: float, joint: float) -> Step:
    """Strips in step with the floor's joints where a stack bond shows the tile's same side along the wall;
    elsewhere from the beginning of the stretch."""
    begins = (
        None if layout.plan is None or stretch.round else _on_lattice(stretch, layout.plan.lattice, strip)
    )
    return Step(strip, strip + joint, begins or 0.0, begins is not None)


def _on_lattice(stretch: Stretch, lattice: Lattice, strip: float) -> float | None:
    stacked = not lattice.row_shift_mm and not lattice.column_rise_mm and len(lattice.tiles) <= 1
    turned = math.radians(lattice.rotation_deg)
    sides = (
        (turned, lattice.tile_length_mm, lattice.pitch_x_mm),
        (turned + math.pi / 2, lattice.tile_width_mm, lattice.pitch_y_mm),
    )
    for angle, side, pitch in sides:
        if stacked and abs(side - strip) < SAME_MM and _parallel(stretch, angle):
            return min(_along(point, lattice.origin, angle) for point in (stretch.start, stretch.end)) % pitch
    return None


def _parallel(stretch: Stretch, angle: float) -> bool:
    (x0, y0), (x1, y1) = stretch.start, stretch.end
    return abs(math.sin(math.atan2(y1 - y0, x1 - x0) - angle)) < PARALLEL


def _along(point: Point, origin: Point, angle: float) -> float:
    return (point[0] - origin[0]) * math.cos(angle) + (point[1] - origin[1]) * math.sin(angle)


def pieces(stretch: Stretch, step: Step) -> list[float]:
    """The lengths of skirting along a stretch [mm] between its joints; a rest no wider than one is joint."""
    end = step.begins + stretch.length
    spans = (
        (max(step.begins, number * step.pitch), min(end, number * step.pitch + step.strip))
        for number in range(math.ceil(end / step.pitch))
    )
    joint = step.pitch - step.strip
    return [high - low for low, high in spans if high - low > max(joint, 1e-6)]
