"""The counted floor: every tile and piece of a field, what is cut, and how many tiles it takes."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

from shapely import Polygon

from service.takeoff.allowance import allow_for
from service.takeoff.answer import Layout
from service.takeoff.cuts import Sawing, sawing_of, sides_of, total
from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape
from service.takeoff.lattice import Repeat, Turn, repeat_of
from service.takeoff.laying import Ground, LaidTiles, count_pieces, lay, total_area
from service.takeoff.origins import origin_of
from service.takeoff.pieces import count_needed, needed_for
from service.takeoff.piercing import Pierced, openings_in, pierced_pieces
from service.takeoff.plan import Drawn, lattice_of, plan_of
from service.takeoff.rings import LARGEST_ROOM
from service.takeoff.room import Room
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
    return _laid_out(room, shape, repeat) if shape.laid_out else allow_for(room, shape, values)


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
    if not all(map(math.isfinite, (*given, room.pattern.rotation, room.pattern.offset))):
        raise InputError("/pattern", "rotation, offset and origin must be finite numbers")


def _check_count(shape: FloorShape, repeat: Repeat) -> None:
    tiles = shape.field.area * repeat.tiles_per_mm2
    if tiles > MOST_TILES:
        text = f"takes about {tiles:,.0f} tiles; a room is laid out up to {MOST_TILES:,} tiles"
        raise InputError("/tile", text)


def _laid_out(room: Room, shape: FloorShape, repeat: Repeat) -> Layout:
    turn = Turn(room.pattern.rotation)
    ground = Ground(turn.to_tile(shape.field))
    origin = origin_of(room, shape, ground, repeat)
    start = turn.point_to_tile(origin)
    laid = lay(ground, repeat, start, room.min_piece)
    openings = openings_in(room, shape, turn)
    pierced = [list(pierced_pieces(each, openings, repeat, start)) for each in laid]
    drawn, sawing = _sawn(laid, pierced)
    needed = needed_for(ground, laid, room.saw)
    area = total_area(laid)
    bought = math.fsum(each.count * each.tile.area for each in needed)
    narrowest = min(each.narrowest for each in laid)
    return Layout(
        origin=origin,
        pieces=count_pieces(laid),
        whole_tiles=sum(len(each.whole) for each in laid),
        cut_tiles=sum(each.cut_positions for each in laid),
        cuts=sawing.cuts,
        cut_length_m=sawing.length / 1e3,
        narrowest_piece_mm=narrowest if math.isfinite(narrowest) else None,
        tiles_needed=count_needed(needed),
        tiles_lower_bound=sum(each.bound for each in needed),
        tiles_by_size=tuple((each.tile.length, each.tile.width, each.count) for each in needed),
        wastage_percent=100 * (bought / area - 1) if area else 0.0,
        tiled_area_m2=area / 1e6,
        joint_length_m=_joint_length(ground, laid, room.joint) / 1e3,
        unlaid_slivers=sum(each.slivers for each in laid),
        unlaid_area_m2=math.fsum(each.sliver_area for each in laid) / 1e6,
        plan=plan_of(lattice_of(repeat, origin, room.pattern.rotation), shape.field, laid, drawn, turn),
    )


def _sawn(laid: Sequence[LaidTiles], pierced: Sequence[Sequence[Pierced]]) -> tuple[list[Drawn], Sawing]:
    """All pieces that are not plain whole tiles, and all their cuts."""
    pieces = [piece for tile, each in enumerate(laid) for piece in _sawn_from(each, pierced[tile], tile)]
    return [piece for piece, _ in pieces], total([sawing for _, sawing in pieces])


def _sawn_from(laid: LaidTiles, pierced: Sequence[Pierced], tile: int) -> Iterator[tuple[Drawn, Sawing]]:
    through: dict[int | None, list[Pierced]] = defaultdict(list)
    for each in pierced:
        through[each.cut].append(each)
    for i, (outline, (x, y)) in enumerate(zip(laid.outlines, laid.corners.tolist(), strict=True)):
        sawing = total([sawing_of(outline, sides_of(laid.tile, (x, y))), *(p.sawing for p in through[i])])
        shown = through[i][0].outline if through[i] else outline
        yield Drawn(tile, int(laid.cut.rows[i]), int(laid.cut.columns[i]), shown, sawing.cuts), sawing
    places = sorted({(each.row, each.column) for each in through[None]})
    for row, column in places:
        here = [each for each in through[None] if (each.row, each.column) == (row, column)]
        sawing = total([each.sawing for each in here])
        yield Drawn(tile, row, column, here[0].outline, sawing.cuts), sawing


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
