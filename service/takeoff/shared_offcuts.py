"""Offcuts that serve another room of the job with the same tile."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from service.takeoff.answer import Layout, Material, Reason
from service.takeoff.geometry import floor_shape
from service.takeoff.laid_floor import Floor, LaidFloor
from service.takeoff.merge import key_of
from service.takeoff.offcuts import Piece, TileSize, cut_from_tiles
from service.takeoff.pieces import Order, orders_for
from service.takeoff.room import Room, Saw


@dataclass(frozen=True, slots=True)
class Tiled:
    """A room with its layout and its tile as bought for it alone."""

    room: Room
    layout: Layout
    tile: Material


def savings(rooms: Sequence[Tiled]) -> Iterator[Material]:
    """Tiles [piece, below zero] that rooms of one tile and saw take less together than each alone."""
    alike: dict[object, list[Tiled]] = defaultdict(list)
    for each in rooms:
        if each.layout.plan is not None:
            alike[key_of(each.tile), each.room.saw].append(each)
    for same in alike.values():
        saved = sum(each.layout.tiles_needed for each in same) - _together(same) if len(same) > 1 else 0
        if saved > 0:
            yield _less(same, saved)


def _less(same: Sequence[Tiled], saved: int) -> Material:
    return replace(
        same[0].tile,
        required=-saved,
        with_allowance=-saved,
        reasons=(Reason("offcuts shared between rooms", -saved),),
        rooms=tuple(each.room.name for each in same),
    )


def _together(same: Sequence[Tiled]) -> int:
    """Tiles of all sizes for all rooms at once; joints need not agree."""
    orders = [order for each in same for order in _orders(each)]
    pieces: dict[TileSize, list[Piece]] = defaultdict(list)
    for order in orders:
        pieces[order.tile] += order.pieces
    saw: Saw = same[0].room.saw
    cut = sum(cut_from_tiles(each, tile, saw).count for tile, each in pieces.items())
    return cut + sum(order.whole for order in orders)


def _orders(tiled: Tiled) -> list[Order]:
    """The room's own pieces, laid again where its layout has them."""
    plan, origin = tiled.layout.plan, tiled.layout.origin
    if plan is None or origin is None:
        return []
    pattern = replace(tiled.room.pattern, rotation=plan.lattice.rotation_deg)
    room = replace(tiled.room, pattern=pattern)
    laid = LaidFloor(Floor.of(room, floor_shape(room)), origin)
    return orders_for(laid.floor.ground, laid.tiles, laid.floor.directional)
