"""A right-angled field as a grid, and what its grid lines leave of tiles.

Seen along the tile's axes such a field is a table of cells between the places of its edges. A tile that
some of those places lie in is cut as the table says; which part of the tile is meant decides how many
pieces and cuts there are, where the tile begins decides only how wide they are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
import shapely
from shapely import MultiPolygon, Polygon

from service.takeoff.cuts import sawing_of, sides_of
from service.takeoff.lattice import rectangle
from service.takeoff.laying import largest_part
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point
from service.takeoff.sweep import Floats, Ints, segments_of

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class LevelField:
    """`filled[i, j]`: whether the field lies between xs[i - 1] and xs[i], ys[j - 1] and ys[j] [mm]."""

    xs: Floats
    ys: Floats
    filled: Bools

    @property
    def longest(self) -> tuple[Floats, Floats]:
        """The places across x and across y, those where the field's edge is longest first."""
        x = np.abs(np.diff(self.filled[:, 1:-1].astype(np.int64), axis=0)) @ np.diff(self.ys)
        y = np.diff(self.xs) @ np.abs(np.diff(self.filled[1:-1].astype(np.int64), axis=1))
        return self.xs[np.lexsort((self.xs, -np.round(x, 3)))], self.ys[
            np.lexsort((self.ys, -np.round(y, 3)))
        ]

    @property
    def ends(self) -> tuple[Point, Point]:
        """Along x and along y the two places between which the field mostly lies: where it begins and ends
        over the greatest length. What reaches on into a doorway is not taken for a wall."""
        x = np.diff(self.filled[:, 1:-1].astype(np.float64), axis=0) * np.diff(self.ys)
        y = np.diff(self.filled[1:-1].astype(np.float64), axis=1).T * np.diff(self.xs)
        return _ends(self.xs, x), _ends(self.ys, y)


def level_field(field: Polygon | MultiPolygon) -> LevelField | None:
    """The field as a grid; None where it is not right-angled along the axes."""
    xa, ya, xb, yb = segments_of(field).T
    upright, flat = np.abs(xa - xb) <= TOLERANCE, np.abs(ya - yb) <= TOLERANCE
    if not (upright | flat).all():
        return None
    xs, ys = _distinct(xa[upright]), _distinct(ya[flat])
    shapely.prepare(field)
    filled = np.zeros((len(xs) + 1, len(ys) + 1), np.bool_)
    middles = np.meshgrid((xs[1:] + xs[:-1]) / 2, (ys[1:] + ys[:-1]) / 2, indexing="ij")
    filled[1:-1, 1:-1] = shapely.contains_xy(field, *middles)
    return LevelField(xs, ys, filled)


def _ends(lines: Floats, lengths: Floats) -> Point:
    """The outer ones of equally long lines; of all, where the longest do not face each other."""
    begins, ends = (np.round(np.maximum(each, 0).sum(axis=1), 3) for each in (lengths, -lengths))
    low, high = lines[begins.argmax()], lines[::-1][ends[::-1].argmax()]
    return (float(low), float(high)) if low < high else (float(lines[0]), float(lines[-1]))


def middle_of(field: Polygon | MultiPolygon) -> Floats:
    """The middle of the field's largest part, between its walls where it is right-angled."""
    part = largest_part(field)
    level, (x0, y0, x1, y1) = level_field(part), part.bounds
    return np.asarray(np.mean(level.ends if level else [(x0, x1), (y0, y1)], axis=1))


def _distinct(places: Floats) -> Floats:
    places = np.sort(places)
    return np.asarray(places[np.diff(places, prepend=-np.inf) > TOLERANCE])


@dataclass(frozen=True)
class Spans:
    """Tiles along one axis, for many starts. `kinds` are rows (lo, hi): a tile from the lo-th interval
    between edges to the hi-th. `parts` are rows (kind, a, b): what such a tile has from interval a to b;
    `widths` [start, part] in mm; `counts` [start, class, part], the class being the tile's number modulo
    how many classes there are."""

    kinds: Ints
    parts: Ints
    widths: Floats
    counts: Floats

    def only(self, used: Ints) -> Spans:
        return Spans(self.kinds, self.parts[used], self.widths[:, used], self.counts[:, :, used])

    @property
    def full(self) -> Ints:
        """Of each kind the part that is all of the tile."""
        kind, a, b = self.parts.T
        return np.flatnonzero((a == self.kinds[kind, 0]) & (b == self.kinds[kind, 1]))


def spans(lines: Floats, size: float, pitch: float, starts: Floats, classes: int = 1) -> Spans:
    """Tiles of a size [mm] at a pitch from each of some starts, over edges at `lines`."""
    first = np.floor((lines[0] - starts) / pitch)
    number = first[:, None] + np.arange(int((lines[-1] - lines[0]) / pitch) + 2)
    low = starts[:, None] + number * pitch
    lo = np.searchsorted(lines, low + TOLERANCE, "right")
    hi = np.maximum(lo, np.searchsorted(lines, low + size - TOLERANCE, "left"))
    width = len(lines) + 1
    codes, kind = np.unique(lo * width + hi, return_inverse=True)
    kind = kind.reshape(low.shape)
    kinds = np.stack([codes // width, codes % width], axis=1)
    parts = np.array([(k, a, b) for k, (c, d) in enumerate(kinds.tolist()) for a, b in _within(c, d)])
    lows = np.zeros((len(starts), len(kinds)))
    np.put_along_axis(lows, kind, low, axis=1)
    counts = np.zeros((len(starts), classes, len(kinds)))
    np.add.at(counts, (np.arange(len(starts))[:, None], number.astype(np.int64) % classes, kind), 1.0)
    return Spans(kinds, parts, _widths(lines, size, kinds, parts, lows), counts[:, :, parts[:, 0]])


def _within(lo: int, hi: int) -> Iterator[tuple[int, int]]:
    return ((a, b) for a in range(lo, hi + 1) for b in range(a, hi + 1))


def _widths(lines: Floats, size: float, kinds: Ints, parts: Ints, lows: Floats) -> Floats:
    kind, a, b = parts.T
    low = lows[:, kind]
    left = np.where(a > kinds[kind, 0], lines[np.maximum(a - 1, 0)], low)
    right = np.where(b < kinds[kind, 1], lines[np.minimum(b, len(lines) - 1)], low + size)
    return np.where(kinds[kind, 0] == kinds[kind, 1], size, right - left)


@dataclass(frozen=True)
class Tables:
    """Per part along x and part along y: pieces with that box, and cuts that make them."""

    pieces: Floats
    cuts: Floats


def tables(level: LevelField, across: Spans, along: Spans) -> Tables:
    """What each kind of column and row makes of a tile."""
    result = Tables(*np.zeros((2, len(across.parts), len(along.parts))))
    cells, filled = _filled(level, across.kinds, along.kinds)
    whole = np.nonzero(filled == cells)
    result.pieces[across.full[whole[0]], along.full[whole[1]]] = 1.0
    place_x, place_y = _places(across), _places(along)
    for k, m in np.argwhere((filled > 0) & (filled < cells)).tolist():
        (lo, hi), (low, high) = across.kinds[k].tolist(), along.kinds[m].tolist()
        part = level.filled[lo : hi + 1, low : high + 1]
        for a, b, c, d, cuts in _pieces(part.tobytes(), part.shape):
            at = place_x[k, lo + a, lo + b], place_y[m, low + c, low + d]
            result.pieces[at] += 1.0
            result.cuts[at] += cuts
    return result


def _places(axis: Spans) -> dict[tuple[int, int, int], int]:
    return {(k, a, b): i for i, (k, a, b) in enumerate(axis.parts.tolist())}


def _filled(level: LevelField, columns: Ints, rows: Ints) -> tuple[Ints, Ints]:
    """Per kind of column and of row the cells of the grid in a tile, and how many of them are field."""
    sums = np.pad(level.filled.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    (x0, x1), (y0, y1) = columns.T[:, :, None], rows.T[:, None, :]
    cells = (x1 - x0 + 1) * (y1 - y0 + 1)
    return cells, sums[x1 + 1, y1 + 1] - sums[x0, y1 + 1] - sums[x1 + 1, y0] + sums[x0, y0]


@lru_cache(maxsize=4096)
def _pieces(filled: bytes, shape: tuple[int, int]) -> tuple[tuple[int, int, int, int, int], ...]:
    """The pieces of a tile with some cells cut away: first and last cell along x and along y, and cuts."""
    i, j = np.nonzero(np.frombuffer(filled, np.bool_).reshape(shape))
    sides = sides_of(rectangle(0, 0, *shape), (0, 0))
    pieces = shapely.get_parts(shapely.union_all(shapely.box(i, j, i + 1, j + 1)))
    return tuple(
        (x0, x1 - 1, y0, y1 - 1, sum(astuple(sawing_of(piece, sides).cuts)))
        for piece in pieces.tolist()
        for x0, y0, x1, y1 in [map(round, piece.bounds)]
    )
