"""Laid tile that is cut along a line, its halves staying in place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import dist

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from service.takeoff.answer import Cuts, Plan
from service.takeoff.cuts import Sawing, total
from service.takeoff.placed import Line, Outlines, cut_pieces_of, sides_of_tile, whole_tiles_near

SAME_DIRECTION = 1e-6
FAR = 1e5
"""No tile is longer [mm]."""


def sawn_along(lines: Sequence[Line], plan: Plan, least: float) -> Sawing:
    """The cuts of laid tile along some lines, one for each piece and line, and their length [mm].

    What a line crosses over less than `least` mm, or parts off narrower, is not cut.
    """
    sawings = (each for tile in range(len(plan.lattice.tiles)) for each in _of_kind(lines, plan, tile, least))
    return total([Sawing(Cuts(), 0.0), *sawings])


def _of_kind(lines: Sequence[Line], plan: Plan, tile: int, least: float) -> Iterator[Sawing]:
    cut, sides = cut_pieces_of(plan, tile), sides_of_tile(plan.lattice, tile)
    for line in lines:
        crossed = _crossed(np.concatenate([whole_tiles_near(plan, tile, line), cut]), line, least)
        straight = any(_parallel(line, side) for side in sides)
        counted = Cuts(straight=len(crossed)) if straight else Cuts(diagonal=len(crossed))
        yield Sawing(counted, float(crossed.sum()))


def _crossed(outlines: Outlines, line: Line, least: float) -> NDArray[np.float64]:
    """How long the line runs over each piece that it cuts [mm]."""
    drawn = LineString(line)
    met = outlines[shapely.intersects(outlines, drawn)]
    lengths = shapely.length(shapely.intersection(met, drawn))
    left = shapely.area(shapely.intersection(met, _left_of(line)))
    narrower = np.minimum(left, shapely.area(met) - left)
    return np.asarray(lengths[(lengths > least) & (narrower >= least * lengths / 2)])


def _left_of(line: Line) -> Polygon:
    """The ground on the left of a line, as far as any tile on it reaches."""
    start, end = np.array(line)
    ahead = (end - start) / dist(*line) * (dist(*line) + FAR)
    aside = np.array([-ahead[1], ahead[0]])
    low, high = start - ahead, end + ahead
    return Polygon([low, high, high + aside, low + aside])


def _parallel(one: Line, other: Line) -> bool:
    (ax, ay), (bx, by) = ((end[0] - start[0], end[1] - start[1]) for start, end in (one, other))
    return abs(ax * by - ay * bx) <= SAME_DIRECTION * dist(*one) * dist(*other)
