"""Laid tile in its place in the room, found again from the plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import cos, dist, radians, sin

import numpy as np
from shapely import LineString, Polygon

from service.takeoff.answer import CutPiece, Lattice, Plan
from service.takeoff.room import Point, Ring
from service.takeoff.sweep import Floats

Line = tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class Placed:
    """A laid piece and the sides of the tile that it is, or was cut from [mm in the room]."""

    outline: Polygon
    sides: tuple[Line, ...]


def pieces_on(plan: Plan, line: Line) -> Iterator[Placed]:
    """The pieces, whole and cut, that a line meets."""
    drawn = LineString(line)
    for tile, ring in enumerate(plan.lattice.tiles):
        corners = _corners(plan, tile, ring, line)
        for each in corners:
            outline = Polygon(each)
            if outline.intersects(drawn):
                yield Placed(outline, _sides(each))
    for piece in plan.cut:
        outline = Polygon(piece.outline, piece.holes)
        if outline.intersects(drawn):
            yield Placed(outline, _sides(tile_corners(plan.lattice, piece)))


def tile_corners(lattice: Lattice, piece: CutPiece) -> Floats:
    """The corners of the tile that a piece is cut from [mm in the room], one row each."""
    cells = cell_corners(lattice, np.array([piece.row]), np.array([piece.column]))
    return np.asarray(cells[0] + to_room_axes(lattice, np.array(lattice.tiles[piece.tile])))


def cell_corners(lattice: Lattice, rows: Floats, columns: Floats) -> Floats:
    """The low corners of some cells [mm in the room], one row each."""
    x = columns * lattice.pitch_x_mm + rows * lattice.row_shift_mm
    y = rows * lattice.pitch_y_mm + columns * lattice.column_rise_mm
    return np.asarray(lattice.origin + to_room_axes(lattice, np.stack([x, y], axis=-1)))


def to_tile_axes(lattice: Lattice, points: Floats) -> Floats:
    """Steps in the room as steps along the tile's axes."""
    return np.asarray(points @ _turn(lattice))


def to_room_axes(lattice: Lattice, points: Floats) -> Floats:
    """Steps along the tile's axes as steps in the room."""
    return np.asarray(points @ _turn(lattice).T)


def _corners(plan: Plan, tile: int, ring: Ring, line: Line) -> Floats:
    """The corners of the whole tiles of one kind whose circle about their cell's corner the line meets."""
    runs = [run for run in plan.whole if run.tile == tile]
    if not runs:
        return np.empty((0, len(ring), 2))
    rows = np.concatenate([np.full(run.last - run.first + 1, run.row) for run in runs])
    columns = np.concatenate([np.arange(run.first, run.last + 1) for run in runs])
    cells = cell_corners(plan.lattice, rows, columns)
    reach = max(dist((0.0, 0.0), corner) for corner in ring)
    near = _distance(cells, line) <= reach
    return np.asarray(cells[near][:, None, :] + to_room_axes(plan.lattice, np.array(ring))[None, :, :])


def _distance(points: Floats, line: Line) -> Floats:
    start, run = np.array(line[0]), np.array(line[1]) - np.array(line[0])
    share = np.clip((points - start) @ run / (run @ run), 0.0, 1.0)
    return np.asarray(np.hypot(*(points - start - share[:, None] * run).T))


def _sides(corners: Floats) -> tuple[Line, ...]:
    ring: list[Point] = [(float(x), float(y)) for x, y in corners]
    return tuple(pairwise([*ring, ring[0]]))


def _turn(lattice: Lattice) -> Floats:
    turn = radians(lattice.rotation_deg)
    return np.array([[cos(turn), -sin(turn)], [sin(turn), cos(turn)]])
