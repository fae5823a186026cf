"""The cuts of many pieces at once.

At every corner of a convex piece one cut ends and the next begins, so that each of its sawn sides is one
cut; other pieces, and those that may have a curve, are looked at one by one.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields

import numpy as np
import numpy.typing as npt
import shapely

from service.takeoff.answer import Cuts
from service.takeoff.cuts import GENTLE, NEAR, STRAIGHT_ON, Sawing, sawing_of, sides_of
from service.takeoff.half_planes import cross
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Ring
from service.takeoff.sweep import Floats, Ints

Bools = npt.NDArray[np.bool_]
_KINDS = [each.name for each in fields(Cuts)]
_STRAIGHT, _DIAGONAL = _KINDS.index("straight"), _KINDS.index("diagonal")


@dataclass(frozen=True)
class Sawings:
    """`counts` [piece, kind of cut in the order of Cuts] and the length of the cuts of each piece [mm]."""

    counts: Ints
    lengths: Floats

    def cuts(self, i: int) -> Cuts:
        return Cuts(*self.counts[i].tolist())


@dataclass(frozen=True)
class _Corners:
    """Corners of all pieces in turn: place, piece, and the next corner's place in the list."""

    at: Floats
    piece: Ints
    after: Ints

    @property
    def sides(self) -> Floats:
        return np.asarray(self.at[self.after] - self.at)

    @property
    def turns(self) -> Floats:
        """The sine of the turn at the end of each side, positive to the left; 2 where it turns back."""
        one, other = self.sides, self.sides[self.after]
        length = np.hypot(*one.T) * np.hypot(*other.T)
        sine = cross(one, other) / np.maximum(length, TOLERANCE**2)
        return np.asarray(np.where((one * other).sum(axis=1) < -0.999 * length, 2.0, sine))


def sawings(outlines: npt.NDArray[np.object_], tile: Ring, corners: Floats) -> Sawings:
    """The cuts of pieces out of tiles whose boxes begin at `corners`."""
    counts, lengths = np.zeros((len(outlines), len(_KINDS)), np.int64), np.zeros(len(outlines))
    found = _corners(outlines)
    odd = shapely.get_num_interior_rings(outlines) > 0
    odd[found.piece[np.hypot(*found.sides.T) <= TOLERANCE]] = True
    found = _only(found, np.abs(_before(found, found.turns)) > STRAIGHT_ON)
    odd[found.piece[found.turns <= 0]] = True
    gentle = found.turns <= np.sin(GENTLE) + TOLERANCE
    odd[found.piece[gentle & _before(found, gentle)]] = True
    _count_sides(found, np.asarray(tile), corners, counts, lengths)
    for i in np.flatnonzero(odd).tolist():
        x, y = corners[i].tolist()
        one: Sawing = sawing_of(outlines[i], sides_of(tile, (x, y)))
        counts[i], lengths[i] = astuple(one.cuts), one.length
    return Sawings(counts, lengths)


def _corners(outlines: npt.NDArray[np.object_]) -> _Corners:
    """The corners of outer rings, anticlockwise."""
    rings = shapely.get_exterior_ring(shapely.orient_polygons(outlines))
    at, piece = shapely.get_coordinates(rings, return_index=True)
    last = np.append(piece[1:] != piece[:-1], True)[: len(piece)]
    return _linked(at[~last], piece[~last])


def _only(corners: _Corners, kept: Bools) -> _Corners:
    return _linked(corners.at[kept], corners.piece[kept])


def _linked(at: Floats, piece: Ints) -> _Corners:
    first = np.searchsorted(piece, piece)
    last = np.append(piece[1:] != piece[:-1], True)[: len(piece)]
    return _Corners(at, piece, np.where(last, first, np.arange(len(piece)) + 1))


def _before(corners: _Corners, values: Floats) -> Floats:
    """What belongs to the end of each side, by the corner that it lies at."""
    result = np.empty_like(values)
    result[corners.after] = values
    return result


def _count_sides(corners: _Corners, tile: Floats, low: Floats, counts: Ints, lengths: Floats) -> None:
    """Each side that does not lie on its tile's outline as a straight or diagonal cut."""
    run, sides = corners.sides, np.roll(tile, -1, axis=0) - tile
    inward = np.stack([-sides[:, 1], sides[:, 0]], axis=1) / np.hypot(*sides.T)[:, None]
    place = corners.at - low[corners.piece] + tile.min(axis=0)
    near = _near(place, tile, inward)
    sawn = ~(near & near[corners.after]).any(axis=1)
    length = np.hypot(*run.T)
    slant = np.abs(run @ inward.T) / np.maximum(length, TOLERANCE)[:, None]
    kind = np.where((slant < STRAIGHT_ON).any(axis=1), _STRAIGHT, _DIAGONAL)
    np.add.at(counts, (corners.piece[sawn], kind[sawn]), 1)
    np.add.at(lengths, corners.piece[sawn], length[sawn])


def _near(points: Floats, tile: Floats, inward: Floats) -> Bools:
    """Which points lie on the line through which side of the tile."""
    depth = points @ inward.T - (tile * inward).sum(axis=1)
    return np.asarray(np.abs(depth) <= NEAR)
