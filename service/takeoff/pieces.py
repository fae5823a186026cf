"""Laid pieces as what must be cut from tile: their boxes, and the sides that must be factory sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Polygon, affinity

from service.takeoff.guillotine import BOTTOM, LEFT, RIGHT, TOP, Box
from service.takeoff.laying import Geometries, Ground, LaidTiles, is_rectangle
from service.takeoff.offcuts import Cutting, Piece, TileSize, cut_from_tiles
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, Saw
from service.takeoff.sweep import Floats, Ints

_SIDES = np.array([LEFT, BOTTOM, RIGHT, TOP])
_ENDS = np.array([[0, 1, 0, 3], [0, 1, 2, 1], [2, 1, 2, 3], [0, 3, 2, 3]])  # of each side, in a box's bounds

Mark = tuple[int, int]
"""A laid piece: the number of its tile in the cell, and its own number among that tile's cut pieces."""


@dataclass(slots=True)
class Order:
    """What a field takes of one size of tile: whole tiles, and cut pieces with their marks."""

    tile: TileSize
    whole: int = 0
    pieces: list[Piece] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Needed:
    """An order and how its pieces are cut."""

    order: Order
    cutting: Cutting

    @property
    def tile(self) -> TileSize:
        return self.order.tile

    @property
    def count(self) -> int:
        """Tiles that must come out of boxes."""
        return self.order.whole + self.cutting.count

    @property
    def bound(self) -> int:
        """Tiles that no cutting can go below."""
        return self.order.whole + self.cutting.bound


def needed_for(
    ground: Ground, laid: Sequence[LaidTiles], saw: Saw, directional: bool = False
) -> tuple[Needed, ...]:
    """Whole tiles and tiles for cut pieces, size by size."""
    orders = orders_for(ground, laid, directional)
    return tuple(Needed(order, cut_from_tiles(order.pieces, order.tile, saw)) for order in orders)


def orders_for(ground: Ground, laid: Sequence[LaidTiles], directional: bool = False) -> list[Order]:
    """What is cut, size by size; tile laid across and upright is one size."""
    orders: dict[TileSize, Order] = {}
    for number, each in enumerate(laid):
        size = _size_of(each, directional)
        order = orders.setdefault(size, Order(size))
        order.whole += len(each.whole)
        upright = each.size[0] < each.size[1]
        pieces = pieces_of(ground, each)
        order.pieces += [_laid_across(p, each.size) if upright else p for p in pieces]
        order.marks += [(number, i) for i in range(len(pieces))]
    return list(orders.values())


def count_needed(needed: Sequence[Needed]) -> int:
    """Tiles of all sizes."""
    return sum(each.count for each in needed)


def _size_of(laid: LaidTiles, directional: bool) -> TileSize:
    """The tile with its longer side across, rounded so that equal tiles are one size."""
    width, length = sorted(round(side, 6) for side in laid.size)
    return TileSize(length, width, round(laid.whole_area, 6), is_rectangle(laid.tile), directional)


def _laid_across(piece: Piece, size: Point) -> Piece:
    """The piece of an upright tile with its tile turned by a quarter."""
    outline = piece.outline
    turned = outline and affinity.affine_transform(outline, [0, -1, 1, 0, size[1], 0])
    return Piece(piece.box.turned(), piece.area, turned)


def pieces_of(ground: Ground, laid: LaidTiles) -> list[Piece]:
    """The cut pieces of one tile of the cell."""
    rows = zip(
        laid.sides.tolist(),
        _factory_sides(ground, laid).tolist(),
        laid.areas.tolist(),
        _odd_outlines(laid),
        strict=True,
    )
    return [Piece(Box(length, width, sides), area, outline) for (length, width), sides, area, outline in rows]


def _odd_outlines(laid: LaidTiles) -> list[Polygon | None]:
    """Outlines of the pieces that are no rectangles, each with its tile's low corner at zero."""
    odd = np.flatnonzero(~laid.square)
    points, owner = shapely.get_coordinates(laid.outlines[odd], return_index=True)
    moved = shapely.set_coordinates(laid.outlines[odd], points - laid.corners[odd][owner])
    outlines: list[Polygon | None] = [None] * len(laid.square)
    for i, outline in zip(odd.tolist(), moved, strict=True):
        outlines[i] = outline
    return outlines


def _factory_sides(ground: Ground, laid: LaidTiles) -> Ints:
    """Per piece the sides on its tile's box, less what lies along the field's edge."""
    lines = shapely.linestrings(laid.bounds[:, _ENDS].reshape(-1, 2, 2))
    at_edge = shapely.covers(ground.rim, lines).reshape(-1, 4)
    square = (laid.held & ~at_edge) @ _SIDES
    return np.asarray(np.where(laid.square, square, _touched(ground, laid)))


def _touched(ground: Ground, laid: LaidTiles) -> Ints:
    """The same for pieces of any outline: sides of the tile's box along which an edge of theirs runs."""
    owner, edges = _edges(laid.outlines, np.flatnonzero(~laid.square))
    box = np.hstack([laid.corners, laid.corners + np.array(laid.size)])[owner]
    off = np.abs(edges[:, :, [0, 1, 0, 1]] - box[:, None, :]).max(axis=1)
    edge, side = np.nonzero(off <= 2 * TOLERANCE)
    runs = shapely.linestrings(edges[edge])
    facing = (shapely.length(runs) > 4 * TOLERANCE) & ~shapely.covers(ground.rim, runs)
    sides = np.zeros(len(laid.outlines), np.int64)
    np.bitwise_or.at(sides, owner[edge[facing]], _SIDES[side[facing]])
    return sides


def _edges(outlines: Geometries, chosen: Ints) -> tuple[Ints, Floats]:
    """Edges as (start, end) of the outer rings of some outlines, each with the outline's number."""
    points, ring = shapely.get_coordinates(shapely.get_exterior_ring(outlines[chosen]), return_index=True)
    same = ring[:-1] == ring[1:]
    return chosen[ring[:-1][same]], np.stack([points[:-1][same], points[1:][same]], axis=1)
