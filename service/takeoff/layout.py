"""The counted floor: every tile and piece of a field, what is cut, and how many tiles it takes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from shapely import Polygon

from service.takeoff.allowance import allow_for
from service.takeoff.answer import Layout, OriginSearch
from service.takeoff.best_origin import best_floor
from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape
from service.takeoff.laid_floor import Floor, LaidFloor
from service.takeoff.lattice import Repeat, repeat_of
from service.takeoff.laying import Ground, LaidTiles, total_area
from service.takeoff.origins import corner_of, far_corner_of, origin_of
from service.takeoff.plan import lattice_of, plan_of
from service.takeoff.rings import LARGEST_ROOM
from service.takeoff.room import Room
from service.takeoff.tile_cuts import tiles_cut
from service.trade.values import TradeValues

MOST_TILES = 200_000
"""A room of more tiles is refused: such a floor is taken off in parts."""


def lay_out(room: Room, shape: FloorShape, values: TradeValues) -> Layout:
    """The layout of the room's tile on its field; an allowance where the shape is not known.

    InputError (pointer relative to the room) for tile, joints or patterns that cannot be laid.
    """
    check_tile(room)
    repeat = repeat_of(room)
    _check_count(shape, repeat)
    return _laid_out(room, shape) if shape.laid_out else allow_for(room, shape, values)


def check_tile(room: Room) -> None:
    """InputError for a measure of the tile, its joints or the saw that cannot be."""
    least_size = room.joint if room.tile.size_is == "nominal" else 0.0
    for name, length in (("joint", room.joint), ("min_piece", room.min_piece), ("saw/kerf", room.saw.kerf)):
        if not 0 <= length <= LARGEST_ROOM:
            raise InputError(f"/{name}", "must be a length of 0 or more")
    for name, length in (("length", room.tile.length), ("width", room.tile.width)):
        if not least_size < length <= LARGEST_ROOM:
            raise InputError(f"/tile/{name}", f"must be a length over {least_size:g}")
    given = room.origin if isinstance(room.origin, tuple) else ()
    rotations = (room.pattern.rotation, *room.pattern.try_rotations)
    if not all(map(math.isfinite, (*given, *rotations, room.pattern.offset))):
        raise InputError("/pattern", "rotation, offset and origin must be finite numbers")


def _check_count(shape: FloorShape, repeat: Repeat) -> None:
    tiles = shape.field.area * repeat.tiles_per_mm2
    if tiles > MOST_TILES:
        text = f"takes about {tiles:,.0f} tiles; a room is laid out up to {MOST_TILES:,} tiles"
        raise InputError("/tile", text)


def _set_out(room: Room, shape: FloorShape) -> tuple[LaidFloor, OriginSearch | None]:
    """The floor from the origin asked for, or from the best."""
    floor = Floor.of(room, shape)
    if room.origin != "best":
        return LaidFloor(floor, origin_of(room, shape, floor.ground, floor.repeat)), None
    turned = [replace(room.pattern, rotation=rotation) for rotation in room.pattern.try_rotations]
    others = (Floor.of(replace(room, pattern=pattern), shape) for pattern in dict.fromkeys(turned))
    return best_floor([floor, *others], corner_of(room, shape), far_corner_of(room, shape))


def _laid_out(room: Room, shape: FloorShape) -> Layout:
    floor, search = _set_out(room, shape)
    laid, ground, pattern = floor.tiles, floor.floor.ground, floor.floor.room.pattern
    area = total_area(laid)
    bought = math.fsum(each.count * each.tile.area for each in floor.needed)
    narrowest = min(each.narrowest for each in laid)
    lattice = lattice_of(floor.floor.repeat, floor.origin, pattern.rotation)
    plan = plan_of(lattice, shape.field, laid, tuple(floor.drawn()), ground.turn)
    return Layout(
        origin=floor.origin,
        pieces=floor.pieces,
        whole_tiles=sum(len(each.whole) for each in laid),
        cut_tiles=sum(each.cut_positions for each in laid),
        cuts=floor.cuts,
        cut_length_m=floor.cut_length / 1e3,
        narrowest_piece_mm=narrowest if math.isfinite(narrowest) else None,
        tiles_needed=floor.tiles_needed,
        tiles_lower_bound=sum(each.bound for each in floor.needed),
        tiles_by_size=tuple((each.tile.length, each.tile.width, each.count) for each in floor.needed),
        wastage_percent=100 * (bought / area - 1) if area else 0.0,
        tiled_area_m2=area / 1e6,
        joint_length_m=_joint_length(ground, laid, room.joint) / 1e3,
        unlaid_slivers=sum(each.slivers for each in laid),
        unlaid_area_m2=math.fsum(each.sliver_area for each in laid) / 1e6,
        plan=plan,
        search=search,
        tiles_cut=tiles_cut(floor, plan),
    )


def _joint_length(ground: Ground, laid: Sequence[LaidTiles], joint: float) -> float:
    """Metres of joint whose width times depth is the joints' volume [mm]; edge to edge, half of what
    the pieces' sides measure inside the field."""
    if joint > 0:
        unlaid = math.fsum(each.sliver_area for each in laid)
        return (ground.field.area - total_area(laid) - unlaid) / joint
    around = math.fsum(Polygon(each.tile).length * len(each.whole) + _lengths(each) for each in laid)
    return max(0.0, (around - ground.field.length) / 2)


def _lengths(laid: LaidTiles) -> float:
    return math.fsum(outline.length for outline in laid.outlines)
