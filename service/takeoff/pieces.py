"""Laid pieces as what must be cut from tile: their boxes, and the sides that must be factory sides."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon, affinity

from service.takeoff.guillotine import BOTTOM, LEFT, RIGHT, TOP, Box
from service.takeoff.laying import Ground, LaidTiles
from service.takeoff.offcuts import Piece, TileSize, tiles_needed
from service.takeoff.room import Saw

_SIDES = np.array([LEFT, BOTTOM, RIGHT, TOP])
_ENDS = np.array([[0, 1, 0, 3], [0, 1, 2, 1], [2, 1, 2, 3], [0, 3, 2, 3]])  # of each side, in a box's bounds


def needed_for(ground: Ground, laid: Sequence[LaidTiles], saw: Saw) -> tuple[int, int]:
    """Tiles needed for a laid field, whole ones and those for cut pieces, and a true lower bound."""
    needed = bound = 0
    for each in laid:
        length, width = each.size
        cut = tiles_needed(pieces_of(ground, each), TileSize(length, width, each.whole_area), saw)
        needed += len(each.whole) + cut[0]
        bound += len(each.whole) + cut[1]
    return needed, bound


def pieces_of(ground: Ground, laid: LaidTiles) -> list[Piece]:
    """The cut pieces of one tile of the cell."""
    rows = zip(laid.sides.tolist(), _factory_sides(ground, laid).tolist(), laid.areas.tolist(), strict=True)
    return [
        Piece(Box(length, width, sides), area, None if laid.square[i] else _at_zero(laid, i))
        for i, ((length, width), sides, area) in enumerate(rows)
    ]


def _at_zero(laid: LaidTiles, i: int) -> Polygon:
    """A piece's outline with its tile's low corner at zero."""
    x, y = laid.corners[i].tolist()
    outline: Polygon = affinity.translate(laid.outlines[i], -x, -y)
    return outline


def _factory_sides(ground: Ground, laid: LaidTiles) -> npt.NDArray[np.int64]:
    """Per piece the sides on its tile's box, less those of rectangles that lie along the field's edge."""
    lines = shapely.linestrings(laid.bounds[:, _ENDS].reshape(-1, 2, 2))
    at_edge = shapely.covers(ground.rim, lines).reshape(-1, 4)
    return np.asarray((laid.held & ~(at_edge & laid.square[:, None])) @ _SIDES)
