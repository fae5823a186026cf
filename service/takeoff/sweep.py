"""Which lattice positions lie wholly in a field and which meet its edge, by sweeping courses, not tiles.

Every edge of the field marks the tiles that it runs through; between marks a course lies all inside or
all outside. Work grows with tiles plus edges; only marked tiles are ever clipped.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.polygon import orient

from service.takeoff.half_planes import runs_through
from service.takeoff.lattice import Repeat
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, Ring

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_COLUMNS = 1 << 31  # room for columns in one number with their row


@dataclass(frozen=True)
class Positions:
    """Lattice positions as two equally long arrays."""

    rows: Ints
    columns: Ints

    def __len__(self) -> int:
        return len(self.rows)

    def at(self, chosen: npt.NDArray[np.bool_] | Ints) -> Positions:
        return Positions(self.rows[chosen], self.columns[chosen])

    def plus(self, others: Positions) -> Positions:
        return Positions(np.append(self.rows, others.rows), np.append(self.columns, others.columns))


@dataclass(frozen=True)
class Band:
    """The bounding box of one tile of the cell, in lattice coordinates [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float

    @classmethod
    def around(cls, points: Floats) -> Band:
        return cls(*points.min(axis=0).tolist(), *points.max(axis=0).tolist())


def segments_of(field: shapely.Geometry) -> Floats:
    """The edges of a field as rows (xa, ya, xb, yb), the field on their left."""
    rings = shapely.get_rings([orient(part) for part in shapely.get_parts(field)])
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[:-1] == ring[1:]
    return np.hstack([points[:-1][same], points[1:][same]])


def sweep(segments: Floats, repeat: Repeat, tile: Ring, origin: Point) -> tuple[Positions, Positions]:
    """Positions wholly inside the field, and positions that an edge of it runs through.

    A tile counts as smaller by the tolerance on every side: an edge within it does not touch. Where columns
    rise, all is sheared until they are level; the box around a sheared tile is larger than the tile, so
    that the tiles whose boxes an edge runs through are looked at once more.
    """
    moved = segments - np.array([*origin, *origin])
    level, band, sheared = levelled(moved, repeat, tile)
    edge, row, column = marks(sheared, level, band)
    at = corners_at(Positions(row, column), repeat, (0.0, 0.0))
    through = runs_through(np.asarray(tile), at, moved[edge])
    marked = np.unique(_code(Positions(row[through], column[through])))
    inside = _code(_inside(sheared, level, band))
    return _decode(np.setdiff1d(inside, marked, assume_unique=True)), _decode(marked)


def levelled(segments: Floats, repeat: Repeat, tile: Ring | Floats) -> tuple[Repeat, Band, Floats]:
    """The lattice with columns that do not rise, one tile's box in it, and the segments sheared with it."""
    slope = repeat.rise / repeat.step_x
    band = Band.around(_sheared(np.asarray(tile), slope))
    level = replace(repeat, step_y=repeat.step_y - slope * repeat.shift, rise=0.0)
    return level, band, _sheared(segments.reshape(-1, 2), slope).reshape(-1, 4)


def corners_at(positions: Positions, repeat: Repeat, origin: Point) -> Floats:
    """The low corners of the cells at lattice positions, in the tile's axes."""
    x = origin[0] + positions.columns * repeat.step_x + positions.rows * repeat.shift
    y = origin[1] + positions.columns * repeat.rise + positions.rows * repeat.step_y
    return np.stack([x, y], axis=1)


def _sheared(points: Floats, slope: float) -> Floats:
    return np.stack([points[:, 0], points[:, 1] - slope * points[:, 0]], axis=1) if slope else points


def marks(segments: Floats, repeat: Repeat, band: Band) -> tuple[Ints, Ints, Ints]:
    """Which segment runs through the box of the tile in which row and column."""
    xa, ya, xb, yb = segments.T
    low, high = np.minimum(ya, yb), np.maximum(ya, yb)
    edge, row = _expand(
        np.floor((low - band.y1 + TOLERANCE) / repeat.step_y) + 1,
        np.ceil((high - band.y0 - TOLERANCE) / repeat.step_y) - 1,
    )
    base = row * repeat.step_y
    bottom = np.maximum(low[edge], base + band.y0 + TOLERANCE)
    top = np.minimum(high[edge], base + band.y1 - TOLERANCE)
    one, other = _x_at(segments[edge], bottom), _x_at(segments[edge], top)
    level = ya[edge] == yb[edge]
    one, other = np.where(level, xa[edge], one), np.where(level, xb[edge], other)
    shift = row * repeat.shift
    which, column = _expand(
        np.floor((np.minimum(one, other) - shift - band.x1 + TOLERANCE) / repeat.step_x) + 1,
        np.ceil((np.maximum(one, other) - shift - band.x0 - TOLERANCE) / repeat.step_x) - 1,
    )
    return edge[which], row[which], column


def _inside(segments: Floats, repeat: Repeat, band: Band) -> Positions:
    """Positions whose middle lies in the field, course by course."""
    _, row, first, last = runs(segments, np.zeros(len(segments), np.int64), repeat, band)
    which, column = _expand(first, last)
    return Positions(row[which], column)


def runs(segments: Floats, owner: Ints, repeat: Repeat, band: Band) -> tuple[Ints, Ints, Ints, Ints]:
    """Tiles side by side whose middles lie in the field: its number, row, first and last column, in order.

    `owner` numbers the field that a segment belongs to. A run whose last is before its first is empty.
    """
    _, ya, _, yb = segments.T
    middle = (band.y0 + band.y1) / 2
    edge, row = _expand(
        np.floor((np.minimum(ya, yb) - middle) / repeat.step_y),
        np.ceil((np.maximum(ya, yb) - middle) / repeat.step_y),
    )
    line = row * repeat.step_y + middle
    crosses = (ya[edge] <= line) != (yb[edge] <= line)
    edge, row, line = edge[crosses], row[crosses], line[crosses]
    x, field = _x_at(segments[edge], line), owner[edge]
    order = np.lexsort((x, row, field))
    start, end = x[order[0::2]], x[order[1::2]]
    row, field = row[order[0::2]], field[order[0::2]]
    shift = row * repeat.shift + (band.x0 + band.x1) / 2
    first, last = np.ceil((start - shift) / repeat.step_x), np.floor((end - shift) / repeat.step_x)
    return field, row, first.astype(np.int64), last.astype(np.int64)


def _x_at(segments: Floats, y: Floats) -> Floats:
    """Where segments cross the height y; their own start where they are level."""
    xa, ya, xb, yb = segments.T
    rise = np.where(ya == yb, 1.0, yb - ya)
    x = xa + np.clip((y - ya) / rise, 0.0, 1.0) * (xb - xa)
    return np.asarray(np.where(y == yb, xb, x))


def _expand(first: Floats | Ints, last: Floats | Ints) -> tuple[Ints, Ints]:
    """All whole numbers from first to last of each range, with the range's index."""
    begin = first.astype(np.int64)
    count = np.maximum(last.astype(np.int64) - begin + 1, 0)
    owner = np.repeat(np.arange(len(count)), count)
    ahead = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    return owner, begin[owner] + ahead


def _code(positions: Positions) -> Ints:
    return positions.rows * _COLUMNS + (positions.columns + _COLUMNS // 2)


def _decode(codes: Ints) -> Positions:
    rows = codes // _COLUMNS
    return Positions(rows, codes - rows * _COLUMNS - _COLUMNS // 2)
