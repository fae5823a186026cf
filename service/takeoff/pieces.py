"""Laid pieces as what must be cut from tile: their boxes, and the sides that must be factory sides."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon, affinity

from service.takeoff.guillotine import BOTTOM, LEFT, RIGHT, TOP, Box
from service.takeoff.laying import Ground, LaidTiles, is_rectangle
from service.takeoff.offcuts import Piece, TileSize, tiles_needed
from service.takeoff.room import Point, Saw

_SIDES = np.array([LEFT, BOTTOM, RIGHT, TOP])
_ENDS = np.array([[0, 1, 0, 3], [0, 1, 2, 1], [2, 1, 2, 3], [0, 3, 2, 3]])  # of each side, in a box's bounds


@dataclass(frozen=True, slots=True)
class Needed:
    """Tiles of one size that a field takes, and a number that no cutting can go below."""

    tile: TileSize
    count: int
    bound: int


def needed_for(ground: Ground, laid: Sequence[LaidTiles], saw: Saw) -> tuple[Needed, ...]:
    """Whole tiles and tiles for cut pieces, size by size; tile laid across and upright is one size."""
    whole: Counter[TileSize] = Counter()
    pieces: dict[TileSize, list[Piece]] = defaultdict(list)
    for each in laid:
        size = _size_of(each)
        whole[size] += len(each.whole)
        upright = each.size[0] < each.size[1]
        pieces[size] += [_laid_across(p, each.size) if upright else p for p in pieces_of(ground, each)]
    cut = {size: tiles_needed(pieces[size], size, saw) for size in whole}
    return tuple(Needed(size, whole[size] + cut[size][0], whole[size] + cut[size][1]) for size in whole)


def count_needed(needed: Sequence[Needed]) -> int:
    """Tiles of all sizes."""
    return sum(each.count for each in needed)


def _size_of(laid: LaidTiles) -> TileSize:
    """The tile with its longer side across, rounded so that equal tiles are one size."""
    width, length = sorted(round(side, 6) for side in laid.size)
    return TileSize(length, width, round(laid.whole_area, 6), is_rectangle(laid.tile))


def _laid_across(piece: Piece, size: Point) -> Piece:
    """The piece of an upright tile with its tile turned by a quarter."""
    outline = piece.outline
    turned = outline and affinity.affine_transform(outline, [0, -1, 1, 0, size[1], 0])
    return Piece(piece.box.turned(), piece.area, turned)


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
