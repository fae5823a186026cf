"""A floor of which only area and perimeter are known: tile by area and the pattern's usual waste."""

from __future__ import annotations

import math

from service.takeoff.answer import Cuts, Layout
from service.takeoff.geometry import FloorShape
from service.takeoff.lattice import repeat_of, work_size
from service.takeoff.room import Room
from service.trade.values import TradeValues


def allow_for(room: Room, shape: FloorShape, values: TradeValues) -> Layout:
    """The allowance: nothing is laid out, so no origin, no narrowest piece and no plan.

    Every tile's width of the perimeter counts as one cut, as wide as the tile is on average.
    """
    repeat = repeat_of(room)
    length, width = work_size(room.tile, room.joint)
    field = shape.field.area
    tiles, tiled = field * repeat.tiles_per_mm2, field * repeat.tiled_share
    edge, side = shape.measures.perimeter_m * 1e3, (length + width) / 2
    cut = min(math.ceil(edge / (side + room.joint)), math.ceil(tiles))
    needed = math.ceil(tiles * (1 + usual_waste(room, values)))
    return Layout(
        origin=None,
        pieces=math.ceil(tiles),
        whole_tiles=math.ceil(tiles) - cut,
        cut_tiles=cut,
        cuts=Cuts(diagonal=cut) if is_diagonal(room) else Cuts(straight=cut),
        cut_length_m=cut * side / 1e3,
        narrowest_piece_mm=None,
        tiles_needed=needed,
        tiles_lower_bound=math.ceil(tiles),
        wastage_percent=100 * (needed / tiles - 1),
        tiled_area_m2=tiled / 1e6,
        joint_length_m=_joints(field - tiled, room.joint, tiles * (length + width)) / 1e3,
        laid_out=False,
    )


def usual_waste(room: Room, values: TradeValues) -> float:
    """The pattern's usual waste as a share of the tile laid."""
    return values.number(waste_key(room))


def waste_key(room: Room) -> str:
    """Which waste is usual: that of the pattern, but a square one on the diagonal has its own."""
    return f"layout.waste.{'diagonal' if is_diagonal(room) else room.pattern.kind}"


def is_diagonal(room: Room) -> bool:
    """Whether courses run at an angle to the room."""
    return room.pattern.kind in ("stack_bond", "running_bond") and room.pattern.rotation % 90 != 0


def _joints(area: float, joint: float, half_sides: float) -> float:
    """Length of joint [mm]: the joints' area over their width; edge to edge, half the tiles' sides."""
    return area / joint if joint > 0 else half_sides
