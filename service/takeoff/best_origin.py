"""The search for the start that an expert would choose.

In this order: no piece narrower than half a tile (where the room does not allow it: a third, a quarter, an
eighth), fewest tiles, fewest cuts, balance between opposite edges. Tried on each axis are starts flush
with the field's edges, a centred tile and a centred joint. What a start can give at best along one axis
is known before anything is laid, so starts that can no longer win are not laid out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass
from itertools import product

import numpy as np

from service.takeoff.cuts import sawing_of, sides_of
from service.takeoff.lattice import Repeat
from service.takeoff.laying import Ground, LaidTiles, count_pieces, largest_part, lay
from service.takeoff.pieces import count_needed, needed_for
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, Room
from service.takeoff.sweep import Floats

SHARES = (1 / 2, 1 / 3, 1 / 4, 1 / 8)
"""Steps of the narrowest piece as a share of its tile; half a tile is the usual rule (ANSI A108.02-4.3.2)."""
_MOST_LINES = 4  # of the field's edges along an axis, the longest, that starts are tried flush with
_MOST_FINALISTS = 8  # starts of equally wide pieces that offcuts are reckoned for, the fewest pieces first


@dataclass(frozen=True)
class Axis:
    """One axis of the tile: its size and pitch, the field's edges across it and the field's reach [mm].

    `lines` are rows (place, 1 where the field lies beyond and -1 where it lies before, length).
    """

    size: float
    pitch: float
    joint: float
    lines: Floats
    low: float
    high: float
    slip: float = 0.0  # how far each course is shifted along this axis

    def starts(self) -> list[float]:
        """Where a tile may begin, each place within one pitch once."""
        middle = (self.low + self.high) / 2
        centred = [middle - self.size / 2, middle + self.joint / 2]
        edges = [self.low, self.high, *self.lines[:_MOST_LINES, 0].tolist()]
        tried = [*edges, *(edge - self.size for edge in edges), *centred]
        if self.slip:
            tried += [start + self.slip / 2 for start in centred]
        places: dict[float, float] = {}
        for start in tried:
            places.setdefault(self._within_pitch(start), start)
        return list(places.values())

    def _within_pitch(self, start: float) -> float:
        return round(start / self.pitch % 1, 6) % 1

    def share(self, start: float, min_piece: float) -> float:
        """The narrowest share of a tile at an edge of the field that a start can give; 1 where unknown.

        What is left narrower than the least piece is no piece, but a gap, unless the joint takes it up.
        """
        if self.slip or not len(self.lines):
            return 1.0
        past = (self.lines[:, 0] - start) % self.pitch
        width = np.where(self.lines[:, 1] > 0, self.size - past, past)
        cut = (width > self.joint + TOLERANCE) & (width < self.size) & (past < self.pitch - TOLERANCE)
        share = np.where(width < min_piece - TOLERANCE, 0.0, width / self.size)
        return float(np.where(cut, share, 1.0).min())

    def unbalance(self, start: float) -> float:
        """By how much of a tile the pieces at the two ends of the field differ."""
        first = self.size - (self.low - start + TOLERANCE) % self.pitch
        last = (self.high - start - TOLERANCE) % self.pitch
        ends = [min(width, self.size) if width > 0 else self.size for width in (first, last)]
        return abs(ends[0] - ends[1]) / self.size


def step_of(share: float) -> int:
    """0 where no piece is narrower than half a tile, then 1 to 4 by the steps of SHARES."""
    return next((i for i, least in enumerate(SHARES) if share >= least - 1e-6), len(SHARES))


def best_origin(ground: Ground, repeat: Repeat, room: Room, plain: Point) -> Point:
    """The best start found, in the tile's axes; `plain`, the corner origin, is always among those tried."""
    axes = axes_of(ground, repeat, room.joint)
    tried = [plain, *product(axes[0].starts(), axes[1].starts())]
    finalists = _widest(ground, repeat, room, tried, axes)
    finalists.sort(key=lambda each: (count_pieces(each[1]), _unbalance(each[0], axes)))
    finalists = [each for i, each in enumerate(finalists) if i < _MOST_FINALISTS or each[0] == plain]
    needed = [count_needed(needed_for(ground, laid, room.saw)) for _, laid in finalists]
    fewest = [each for each, tiles in zip(finalists, needed, strict=True) if tiles == min(needed)]
    return min(fewest, key=lambda each: (count_cuts(each[1]), _unbalance(each[0], axes)))[0]


def _unbalance(start: Point, axes: tuple[Axis, Axis]) -> float:
    return round(sum(axis.unbalance(at) for axis, at in zip(axes, start, strict=True)), 6)


def _widest(
    ground: Ground, repeat: Repeat, room: Room, tried: Sequence[Point], axes: tuple[Axis, Axis]
) -> list[tuple[Point, tuple[LaidTiles, ...]]]:
    """Of the starts those whose narrowest piece reaches the best step, laid out."""

    def at_best(start: Point) -> int:
        shares = (axis.share(at, room.min_piece) for axis, at in zip(axes, start, strict=True))
        return step_of(min(shares))

    reached = len(SHARES) + 1
    widest: list[tuple[Point, tuple[LaidTiles, ...]]] = []
    for start in sorted(tried, key=at_best):
        if at_best(start) > reached:
            break
        laid = lay(ground, repeat, start, room.min_piece)
        step = step_of(narrowest_share(laid, room.joint))
        if step < reached:
            reached, widest = step, []
        if step == reached:
            widest.append((start, laid))
    return widest


def narrowest_share(laid: Sequence[LaidTiles], joint: float) -> float:
    """Of all pieces; 0 where a sliver is left that is wider than the joint."""
    gaps = any(each.sliver_width > joint + TOLERANCE for each in laid)
    return 0.0 if gaps else min(each.narrowest_share for each in laid)


def count_cuts(laid: Sequence[LaidTiles]) -> int:
    """All cuts of a laid field; a rectangle has one at every side that is not its tile's."""
    return sum(_count_cuts(each) for each in laid)


def _count_cuts(laid: LaidTiles) -> int:
    odd = ~laid.square
    return int((~laid.held[laid.square]).sum()) + sum(
        sum(astuple(sawing_of(outline, sides_of(laid.tile, (float(x), float(y)))).cuts))
        for outline, (x, y) in zip(laid.outlines[odd], laid.corners[odd], strict=True)
    )


def axes_of(ground: Ground, repeat: Repeat, joint: float) -> tuple[Axis, Axis]:
    """The tile's two axes over a field."""
    xa, ya, xb, yb = ground.segments.T
    x0, y0, x1, y1 = largest_part(ground.field).bounds
    tile = np.asarray(repeat.tiles[0])
    length, width = (tile.max(axis=0) - tile.min(axis=0)).tolist()
    across, along = _lines(xa, xb, yb - ya), _lines(ya, yb, xa - xb)
    return (
        Axis(length, repeat.step_x, joint, across, x0, x1, repeat.shift % repeat.step_x),
        Axis(width, repeat.step_y, joint, along, y0, y1),
    )


def _lines(at: Floats, until: Floats, run: Floats) -> Floats:
    """The field's edges across an axis as (place, side of the field, length), the longest first.

    The field lies on the left of its edges: beyond those that run down, before those that run up.
    """
    level = np.abs(at - until) <= TOLERANCE
    lines = np.stack([at[level], -np.sign(run[level]), np.abs(run[level])], axis=1)
    return lines[np.lexsort((lines[:, 0], -np.round(lines[:, 2], 3)))]
