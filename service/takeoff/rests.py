"""Rectangles that are left of a tile once pieces are cut from it, with the factory sides they have."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon

from service.takeoff.guillotine import BOTTOM, LEFT, RIGHT, TOP, Box
from service.takeoff.kinds import TileSize
from service.takeoff.rings import TOLERANCE

_MOST_RESTS = 3
_MOST_LINES = 16  # along an axis that a rest may end at

Floats = npt.NDArray[np.float64]


def rests_of(tile: TileSize, cut: Sequence[Polygon], kerf: float, least: float) -> list[Box]:
    """The largest rectangles that the saw can free beside `cut`, no side under `least` [mm]."""
    taken = list(cut)
    found: list[Box] = []
    while len(found) < _MOST_RESTS:
        largest = _largest(tile, taken, kerf, least)
        if largest is None:
            break
        taken.append(shapely.box(*largest))
        found.append(_with_sides(largest, tile))
    return found


def _largest(
    tile: TileSize, taken: Sequence[Polygon], kerf: float, least: float
) -> tuple[float, float, float, float] | None:
    points = shapely.get_coordinates(taken)
    x, y = _lines(points[:, 0], tile.length, kerf), _lines(points[:, 1], tile.width, kerf)
    blocked = np.zeros((len(x), len(y)), np.int64)
    inner, outer = TOLERANCE * 2, TOLERANCE  # what touches is clear where there is no kerf
    low, high = (x[:-1, None] + inner, y[None, :-1] + inner), (x[1:, None] - inner, y[None, 1:] - inner)
    cells = shapely.box(*low, *high)
    near = shapely.distance(cells[..., None], np.array(taken, object)) < kerf + outer
    blocked[1:, 1:] = near.any(axis=-1).cumsum(axis=0).cumsum(axis=1)
    best, largest = 0.0, None
    for (a, x0), (b, x1) in combinations(enumerate(x.tolist()), 2):
        if x1 - x0 < least:
            continue
        strip = blocked[b] - blocked[a]
        free = np.triu(strip[None, :] == strip[:, None], 1)
        heights = np.where(free, y[None, :] - y[:, None], 0.0)
        c, d = divmod(int(heights.argmax()), len(y))
        height = float(heights[c, d])
        if height >= least and height * (x1 - x0) > best:
            best, largest = height * (x1 - x0), (x0, float(y[c]), x1, float(y[d]))
    return largest


def _lines(places: Floats, whole: float, kerf: float) -> Floats:
    """Where a rest may end: the tile's sides, a kerf beside the pieces' points, and between these."""
    ends = np.unique(np.round([0.0, whole, *places - kerf, *places + kerf], 3))
    ends = ends[(ends >= 0) & (ends <= whole)]
    middles = (ends[1:] + ends[:-1]) / 2
    lines = np.union1d(ends, middles[np.diff(ends) > 4 * kerf])
    thinned: Floats = (
        lines
        if len(lines) <= _MOST_LINES
        else ends[np.linspace(0, len(ends) - 1, _MOST_LINES).round().astype(int)]
    )
    return np.unique(thinned)


def _with_sides(rest: tuple[float, float, float, float], tile: TileSize) -> Box:
    x0, y0, x1, y1 = rest
    there = ((LEFT, x0), (BOTTOM, y0), (RIGHT, tile.length - x1), (TOP, tile.width - y1))
    sides = sum(side for side, off in there if off <= TOLERANCE)
    return Box(x1 - x0, y1 - y0, sides).rounded()
