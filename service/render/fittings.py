"""What interrupts the floor on paper: obstructions, movement joints and membrane seams."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

import numpy as np
from shapely import Point as ShapelyPoint
from shapely import Polygon, box, union_all
from shapely.geometry.base import BaseGeometry

from service.render.sheet import EXTRA_WIDE, THIN, WIDE, Sheet
from service.render.svg import HALO, circle, group, line, number, path, text, text_width
from service.takeoff.answer import Lattice, MembraneLayout, MovementJoints
from service.takeoff.placed import cell_corners, to_tile_axes
from service.takeoff.room import AREA_KINDS, Obstruction, ObstructionKind, Point

JOINT_DASH, SEAM_DASH, FOLD_DASH = "5 1 0.6 1", "1.6 0.9", "5 0.8 0.6 0.8 0.6 0.8"
"""Movement joints long-dash dot, seams dashed, folds long-dash double-dot: line types of ISO 128-2."""
SEAM_INK = "#555"
"""What lies hidden is drawn narrow (ISO 128-2) and paler than the tile's own joints."""
WORDS = 2.2
ARROW = 8.0
"""Of the two directions of setting out [mm on paper]."""
REACH = 1.2
"""How far a circle's centre lines go beyond it [mm]."""
UNKNOWN_RADIUS = 25.0
"""The mark of a pipe or drain of unknown size [mm in the room]."""


def draw_seams(root: Element, membrane: MembraneLayout | None, sheet: Sheet) -> None:
    """Where strips of membrane butt, under the tile."""
    layer = group(
        root, "membrane-seams", stroke=SEAM_INK, stroke_width=number(THIN), stroke_dasharray=SEAM_DASH
    )
    for start, end in membrane.seams if membrane else ():
        line(layer, sheet.at(start), sheet.at(end))


def draw_joints(root: Element, joints: MovementJoints, sheet: Sheet) -> None:
    """Movement joints in the field, on a white ground so that they stand out from the tile joints."""
    layer = group(root, "movement-joints")
    for start, end in joints.lines:
        ends = sheet.at(start), sheet.at(end)
        line(layer, *ends, stroke="#fff", stroke_width="1.6")
        line(layer, *ends, stroke="#000", stroke_width=number(EXTRA_WIDE), stroke_dasharray=JOINT_DASH)


def draw_folds(root: Element, folds: Iterable[tuple[Point, Point]], sheet: Sheet) -> None:
    """Where a floor laid to falls folds and tile is cut along it, on a white ground."""
    layer = group(root, "folds", stroke_linecap="round")
    for start, end in folds:
        ends = sheet.at(start), sheet.at(end)
        line(layer, *ends, stroke="#fff", stroke_width="1.2")
        line(layer, *ends, stroke="#000", stroke_width=number(WIDE), stroke_dasharray=FOLD_DASH)


@dataclass(frozen=True)
class Mark:
    """An obstruction on paper: its ring, or its centre and radius, and where its name stands."""

    kind: ObstructionKind
    ring: tuple[Point, ...]
    centre: Point
    radius: float

    @property
    def named(self) -> bool:
        """Whether the name finds room: beside a circle always, in an outline where it fits."""
        if not self.ring:
            return True
        xs, ys = zip(*self.ring, strict=True)
        return bool(max(xs) - min(xs) > text_width(self.kind, WORDS) and max(ys) - min(ys) > WORDS)

    @property
    def name_at(self) -> Point:
        """In the middle of an outline, above a circle."""
        return self.centre if self.ring else (self.centre[0], self.centre[1] - self.radius - REACH - 1.2)

    @property
    def taken(self) -> BaseGeometry:
        """The paper that the mark and its name need for themselves."""
        (x, y), half = self.name_at, text_width(self.kind, WORDS) / 2
        body = Polygon(self.ring) if self.ring else ShapelyPoint(self.centre).buffer(self.radius + REACH)
        name = box(x - half, y - 0.6 * WORDS, x + half, y + 0.6 * WORDS)
        if not self.named:
            return body
        return name if self.kind == "hatch" else body.union(name)


def marks_of(obstructions: Iterable[Obstruction], sheet: Sheet) -> list[Mark]:
    return [_mark(obstruction, sheet) for obstruction in obstructions]


def _mark(obstruction: Obstruction, sheet: Sheet) -> Mark:
    ring = tuple(sheet.at(p) for p in obstruction.outline or ())
    if ring:
        xs, ys = zip(*ring, strict=True)
        return Mark(obstruction.kind, ring, ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2), 0.0)
    radius = (obstruction.diameter or 2 * UNKNOWN_RADIUS) / 2 / sheet.scale
    return Mark(obstruction.kind, (), sheet.at(obstruction.centre or sheet.low), max(radius, 0.8))


def taken_by(marks: Sequence[Mark]) -> BaseGeometry:
    """All the paper that obstructions and their names need."""
    return union_all([mark.taken for mark in marks]) if marks else Polygon()


def draw_obstructions(root: Element, marks: Sequence[Mark]) -> None:
    """Outlines crossed through where they take floor away and dashed where they can be lifted."""
    layer = group(root, "obstructions", stroke="#000", stroke_width=number(WIDE))
    for mark in marks:
        if mark.ring:
            _draw_outlined(layer, mark)
        else:
            _draw_round(layer, mark)


def _draw_outlined(layer: Element, mark: Mark) -> None:
    solid, ring = mark.kind in AREA_KINDS, mark.ring
    dash = "none" if solid else "1.5 1"
    path(layer, [ring], fill="#fff" if solid else "none", stroke_dasharray=dash)
    if solid and len(ring) == 4:
        line(layer, ring[0], ring[2], stroke_width=number(THIN))
        line(layer, ring[1], ring[3], stroke_width=number(THIN))


def _draw_round(layer: Element, mark: Mark) -> None:
    """A circle with its centre lines."""
    circle(layer, mark.centre, mark.radius, fill="#fff")
    (x, y), reach = mark.centre, mark.radius + REACH
    line(layer, (x - reach, y), (x + reach, y), stroke_width=number(THIN))
    line(layer, (x, y - reach), (x, y + reach), stroke_width=number(THIN))


def draw_names(root: Element, marks: Sequence[Mark]) -> None:
    layer = group(root, "obstruction-words", fill="#000", text_anchor="middle", **HALO)
    for mark in (mark for mark in marks if mark.named):
        x, y = mark.name_at
        text(layer, (x, y + 0.36 * WORDS), mark.kind, WORDS)


def start_of(lattice: Lattice, sheet: Sheet) -> Point | None:
    """A tile's low corner to set out from [mm in the room]: the origin, or the one nearest to the middle.

    None where no such corner lies in the room's box.
    """
    middle = ((sheet.low[0] + sheet.high[0]) / 2, (sheet.low[1] + sheet.high[1]) / 2)
    corners = (lattice.origin, _nearest_corner(lattice, middle))
    return next((corner for corner in corners if not _outside(corner, sheet)), None)


def _nearest_corner(lattice: Lattice, point: Point) -> Point:
    """The cell's low corner that lies nearest to a point, by column and row [mm in the room]."""
    cell = [[lattice.pitch_x_mm, lattice.row_shift_mm], [lattice.column_rise_mm, lattice.pitch_y_mm]]
    along = to_tile_axes(lattice, np.array(point) - lattice.origin)
    column, row = np.linalg.solve(cell, along).round()
    ((x, y),) = cell_corners(lattice, np.array([row]), np.array([column])).tolist()
    return x, y


def draw_origin(root: Element, lattice: Lattice, sheet: Sheet) -> None:
    """The corner of setting out, with an arrow along each side of the tile, into the room."""
    layer = group(root, "origin", stroke="#000", stroke_width=number(WIDE))
    start = start_of(lattice, sheet)
    if start is None:
        return
    for turn in (lattice.rotation_deg, lattice.rotation_deg + 90):
        across, up = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        reach = ARROW * sheet.scale
        tips = [(start[0] + s * reach * across, start[1] + s * reach * up) for s in (1, -1)]
        tip = min(tips, key=lambda tip: _outside(tip, sheet))
        _arrow(layer, sheet.at(start), sheet.at(tip))
    circle(layer, sheet.at(start), 1.1, fill="#fff")


def _outside(point: Point, sheet: Sheet) -> float:
    """How far a point lies outside the room's box [mm], 0 inside."""
    beyond = [
        max(low - at, at - high, 0.0) for low, at, high in zip(sheet.low, point, sheet.high, strict=True)
    ]
    return math.hypot(*beyond)


def _arrow(layer: Element, start: Point, tip: Point) -> None:
    """An arrow on paper, over a white ground."""
    length = math.dist(start, tip)
    x, y = (tip[0] - start[0]) / length, (tip[1] - start[1]) / length
    line(layer, start, tip, stroke="#fff", stroke_width="1.4")
    line(layer, start, (tip[0] - 2 * x, tip[1] - 2 * y))
    wings = [(tip[0] - 2.6 * x + s * y, tip[1] - 2.6 * y - s * x) for s in (0.8, -0.8)]
    path(layer, [[tip, *wings]], fill="#000", stroke="none")
