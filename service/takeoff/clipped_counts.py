"""Many starts on any field counted together, by clipping only the tiles that its edge runs through.

Tiles that one edge of the field runs through, or two that meet in an outward corner, are convex polygons
cut by lines and are clipped as arrays; the few others exactly. Whole tiles are counted by the run, so that
work grows with edges times starts, not with tiles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from service.takeoff.half_planes import areas, boxes, clipped, cross, placed, runs_through
from service.takeoff.lattice import Repeat
from service.takeoff.laying import Ground, is_rectangle, solid_parts
from service.takeoff.level_field import middle_of
from service.takeoff.rings import TOLERANCE
from service.takeoff.sweep import Floats, Ints, Positions, corners_at, levelled, marks, runs
from service.takeoff.tried import GAP, NEAR_SHARE, SHARES, Tried, Wants

Bools = npt.NDArray[np.bool_]
_ROWS = _COLUMNS = 1 << 24  # room for rows and columns in one number with their start


@dataclass(frozen=True)
class _Met:
    """Tiles that the field's edge runs through, of all starts: which start, the low corner of the tile's
    cell from there [mm], and of the edges through it the number of the first and how many they are."""

    start: Ints
    at: Floats
    first: Ints
    count: Ints
    edges: Ints


@dataclass(frozen=True)
class _Pieces:
    """Pieces of all starts: which start, sides of the box [n, 2], area [mm2], middle, cuts."""

    start: Ints
    sides: Floats
    area: Floats
    middle: Floats
    cuts: Ints

    def at(self, which: Bools) -> _Pieces:
        return _Pieces(
            self.start[which], self.sides[which], self.area[which], self.middle[which], self.cuts[which]
        )


def count_each(ground: Ground, repeat: Repeat, origins: Floats, wants: Wants) -> Tried:
    """The starts `origins` [n, 2] on a field of any shape; cuts of the exactly clipped are estimated."""
    sums, halves = np.zeros((3, len(origins))), np.zeros((8, len(origins)))
    step, middle = np.zeros(len(origins), np.int64), middle_of(ground.field)
    for ring in repeat.tiles:
        tile = np.asarray(ring)
        whole, cut = _of_tile(ground, repeat, tile, origins)
        low = _steps(cut, np.ptp(tile, axis=0), wants)
        np.maximum.at(step, cut.start, low)
        laid = _laid(cut, np.ptp(tile, axis=0), wants)
        sums += _sums(laid, tile, len(origins), wants) + np.stack([whole, whole, 0 * whole])
        halves += _halves(laid, ground, middle, origins, float(areas(tile.T[:, :, None])[0]))
    tiles, pieces, cuts = sums
    return Tried(origins, step, tiles, pieces, cuts, _imbalance(halves), 0 * tiles)


def _of_tile(ground: Ground, repeat: Repeat, tile: Floats, origins: Floats) -> tuple[Floats, _Pieces]:
    """Whole tiles by start, and all that is left of cut ones."""
    edges = ground.segments
    moved = (edges[None] - np.tile(origins, 2)[:, None]).reshape(-1, 4)
    owner = np.repeat(np.arange(len(origins)), len(edges))
    level, band, sheared = levelled(moved, repeat, tile)
    edge, row, column = marks(sheared, level, band)
    at = corners_at(Positions(row, column), repeat, (0.0, 0.0))
    through = runs_through(tile, at, moved[edge])
    edge, at = edge[through], at[through]
    codes = _code(owner[edge], row[through], column[through])
    order = np.argsort(codes, kind="stable")
    codes, first, count = np.unique(codes[order], return_index=True, return_counts=True)
    edge, at = edge[order], at[order]
    met = _Met(owner[edge[first]], at[first], first, count, edge)
    whole = _whole(runs(sheared, owner, level, band), codes, met.start, len(origins))
    return whole, _cut(ground, met, tile, moved, origins)


def _code(start: Ints, row: Ints, column: Ints) -> Ints:
    return (start * _ROWS + row + _ROWS // 2) * _COLUMNS + column + _COLUMNS // 2


def _whole(inside: tuple[Ints, Ints, Ints, Ints], met: Ints, owner: Ints, count: int) -> Floats:
    """Tiles with their middle in the field less those of them that its edge meets."""
    start, row, first, last = (each[inside[3] >= inside[2]] for each in inside)
    begin, end = _code(start, row, first), _code(start, row, last)
    run = np.searchsorted(begin, met, "right") - 1
    among = (run >= 0) & (met <= end[run]) if len(end) else np.zeros(len(met), np.bool_)
    return np.bincount(start, last - first + 1.0, count) - np.bincount(owner[among], minlength=count) * 1.0


def _cut(ground: Ground, met: _Met, tile: Floats, moved: Floats, origins: Floats) -> _Pieces:
    one, two = met.edges[met.first], met.edges[np.minimum(met.first + 1, len(met.edges) - 1)]
    single = met.count == 1
    corner = (met.count == 2) & _outward(ground.segments, one, two)
    by_one = clipped(placed(tile, met.at[single]), moved[one[single]])
    by_two = clipped(clipped(placed(tile, met.at[corner]), moved[one[corner]]), moved[two[corner]])
    pieces = _joined(
        _measured(by_one, met.start[single], 1),
        _measured(by_two, met.start[corner], 2),
        _exact(ground, met, ~single & ~corner, tile, origins),
    )
    return pieces.at(pieces.area > TOLERANCE * pieces.sides.sum(axis=1))


def _outward(segments: Floats, one: Ints, two: Ints) -> Bools:
    """Whether of two edges (numbered through all starts) one follows the other in an outward corner."""
    a, b = segments[one % len(segments)], segments[two % len(segments)]
    turn = cross(a[:, 2:] - a[:, :2], b[:, 2:] - b[:, :2])
    onward, back = (a[:, 2:] == b[:, :2]).all(axis=1), (b[:, 2:] == a[:, :2]).all(axis=1)
    return np.asarray(onward & (turn > 0) | back & (turn < 0))


def _joined(*groups: _Pieces) -> _Pieces:
    return _Pieces(
        np.concatenate([each.start for each in groups]),
        np.concatenate([each.sides for each in groups]),
        np.concatenate([each.area for each in groups]),
        np.concatenate([each.middle for each in groups]),
        np.concatenate([each.cuts for each in groups]),
    )


def _measured(polygons: Floats, start: Ints, cuts: int) -> _Pieces:
    low, high = boxes(polygons)
    return _Pieces(start, high - low, areas(polygons), (low + high) / 2, np.full(len(start), cuts))


def _exact(ground: Ground, met: _Met, chosen: Bools, tile: Floats, origins: Floats) -> _Pieces:
    """Tiles that more of the field's edge runs through; every edge counts as a cut."""
    start, count = met.start[chosen], met.count[chosen]
    rings = tile + (met.at[chosen] + origins[start])[:, None]
    outlines = np.asarray(shapely.polygons(rings)) if len(rings) else np.array([], object)
    parts, owner = solid_parts(ground, outlines)
    box = shapely.bounds(parts).reshape(-1, 4)
    middle = (box[:, 2:] + box[:, :2]) / 2 - origins[start[owner]]
    return _Pieces(start[owner], box[:, 2:] - box[:, :2], shapely.area(parts), middle, count[owner])


def _laid(cut: _Pieces, size: Floats, wants: Wants) -> _Pieces:
    return cut.at(np.minimum(*cut.sides.T) >= wants.least(size.tolist()))


def _steps(cut: _Pieces, size: Floats, wants: Wants) -> Ints:
    """Of each piece; what the joint takes up is as good as laid."""
    narrow = np.minimum(*cut.sides.T)
    share = np.minimum(*(cut.sides / size).T)
    step = np.sum([share < least - NEAR_SHARE for least in SHARES], axis=0)
    taken_up = np.where(narrow > wants.joint + TOLERANCE, GAP, 0)
    return np.asarray(np.where(narrow >= wants.least(size.tolist()), step, taken_up))


def _sums(laid: _Pieces, tile: Floats, count: int, wants: Wants) -> Floats:
    """By start: tiles that the pieces take as a first estimate, pieces, cuts."""
    size, area = np.ptp(tile, axis=0), areas(tile.T[:, :, None])[0]
    square = np.abs(laid.sides.prod(axis=1) - laid.area) <= TOLERANCE * laid.sides.sum(axis=1)
    by_side = wants.load(laid.sides[:, 0], size[0]) * wants.load(laid.sides[:, 1], size[1])
    by_area = np.where(laid.area > area / 2 + TOLERANCE * size.sum(), 1.0, 0.5)
    loads = np.where(square & is_rectangle(tile), by_side, by_area)
    weights = (loads, np.ones(len(loads)), laid.cuts)
    return np.stack([np.bincount(laid.start, each, count) for each in weights])


def _halves(laid: _Pieces, ground: Ground, middle: Floats, origins: Floats, area: float) -> Floats:
    """For the field's two sides along the room's x and y: the sum of the pieces' shares, and their number;
    what lies in the very middle is on no side."""
    from_middle = laid.middle + origins[laid.start] - middle
    room = from_middle @ np.array(ground.turn.axes)
    over = [where for along in room.T for where in (along < -TOLERANCE, along > TOLERANCE)]
    weights = (weight for where in over for weight in (where * laid.area / area, where * 1.0))
    return np.stack([np.bincount(laid.start, weight, len(origins)) for weight in weights])


def _imbalance(halves: Floats) -> Floats:
    """Difference of the mean share of a tile between opposite sides, x and y together."""
    means = halves[0::2] / np.maximum(halves[1::2], 1.0)
    return np.asarray(np.abs(means[0] - means[1]) + np.abs(means[2] - means[3]))
