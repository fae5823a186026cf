"""Laid tile in its place in the room, found again from the plan."""

from __future__ import annotations

from itertools import pairwise
from math import cos, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from service.takeoff.answer import CutPiece, Lattice, Plan
from service.takeoff.room import Point
from service.takeoff.sweep import Floats

Line = tuple[Point, Point]
Outlines = NDArray[np.object_]
"""Polygons in the room [mm]."""


def whole_tiles_near(plan: Plan, tile: int, line: Line) -> Outlines:
    """The outlines of the whole tiles of one kind in the cell that may meet a line."""
    return outlines_at(plan.lattice, tile, *whole_cells_near(plan, tile, line))


def whole_cells_near(plan: Plan, tile: int, line: Line) -> tuple[Floats, Floats]:
    """Rows and columns of these tiles."""
    ring, runs = np.array(plan.lattice.tiles[tile]), [run for run in plan.whole if run.tile == tile]
    if not runs:
        return np.empty(0), np.empty(0)
    rows = np.concatenate([np.full(run.last - run.first + 1, float(run.row)) for run in runs])
    columns = np.concatenate([np.arange(run.first, run.last + 1, dtype=float) for run in runs])
    near = _distance(cell_corners(plan.lattice, rows, columns), line) <= np.hypot(*ring.T).max()
    return rows[near], columns[near]


def outlines_at(lattice: Lattice, tile: int, rows: Floats, columns: Floats) -> Outlines:
    """The outlines of whole tiles of one kind in some cells."""
    if not len(rows):
        return np.empty(0, dtype=object)
    rings = cell_corners(lattice, rows, columns)[:, None, :]
    return np.asarray(shapely.polygons(rings + to_room_axes(lattice, np.array(lattice.tiles[tile]))))


def cut_pieces_of(plan: Plan, tile: int) -> Outlines:
    """The outlines of the cut pieces from one kind of tile in the cell."""
    cut = [Polygon(piece.outline, piece.holes) for piece in plan.cut if piece.tile == tile]
    return np.array(cut, dtype=object)


def sides_of_tile(lattice: Lattice, tile: int) -> list[Line]:
    """The sides of a tile as it lies, from its cell's low corner [mm]."""
    ring = to_room_axes(lattice, np.array(lattice.tiles[tile])).tolist()
    return [((x0, y0), (x1, y1)) for (x0, y0), (x1, y1) in pairwise([*ring, ring[0]])]


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


def _distance(points: Floats, line: Line) -> Floats:
    start, run = np.array(line[0]), np.array(line[1]) - np.array(line[0])
    share = np.clip((points - start) @ run / (run @ run), 0.0, 1.0)
    return np.asarray(np.hypot(*(points - start - share[:, None] * run).T))


def _turn(lattice: Lattice) -> Floats:
    turn = radians(lattice.rotation_deg)
    return np.array([[cos(turn), -sin(turn)], [sin(turn), cos(turn)]])
