"""The cut list: every piece that is not a whole tile, as the saw wants it and where it goes, and every cut
along a fold of the floor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from service.takeoff.answer import CutPiece, Cuts, Lattice, Plan, RoomTakeoff
from service.takeoff.crossings import tiles_cut_along
from service.takeoff.folds import folded
from service.takeoff.placed import Line, tile_corners, to_room_axes, to_tile_axes
from service.takeoff.room import Point, Ring, Room
from service.takeoff.sweep import Floats


@dataclass(frozen=True, slots=True)
class CutTile:
    """One piece: `outline` and `holes` from the low corner of its tile along the tile's sides [mm], the
    tile's size, and where in the room that corner lies and how the tile is turned.

    `along`: what lies there, a whole tile or the plan's `piece`, is cut on this line in place of its outline,
    and both halves go back to where they were."""

    id: str
    row: int
    column: int
    tile: int  # which of the pattern's tiles
    length_mm: float  # of the tile, along the axes of the outline
    width_mm: float
    outline: Ring
    holes: tuple[Ring, ...]
    cuts: Cuts
    position: Point
    rotation_deg: float
    along: tuple[Point, Point] | None = None
    piece: str = ""


def cut_list(plan: Plan) -> tuple[CutTile, ...]:
    """The pieces of a plan in the order of their numbers."""
    return tuple(_cut_tile(plan.lattice, piece) for piece in plan.cut)


def cut_list_of(room: Room, found: RoomTakeoff) -> tuple[CutTile, ...]:
    """The pieces of a room's plan, then its cuts along folds: all cuts that its layout counts."""
    plan = found.layout.plan
    if plan is None:
        return ()
    folds = found.folds if folded(found.findings) else ()
    along = (tile for number, line in enumerate(folds, 1) for tile in _on_fold(number, line, plan, room))
    return (*cut_list(plan), *along)


def _on_fold(number: int, line: Line, plan: Plan, room: Room) -> Iterator[CutTile]:
    """The cuts along one fold, as F and its number name them."""
    for place, (piece, over) in enumerate(tiles_cut_along(line, plan, room.min_piece), 1):
        tile = _cut_tile(plan.lattice, replace(piece, id=f"F{number}.{place}"))
        start, end = _from(np.array(tile.position), plan.lattice, over)
        yield replace(tile, along=(start, end), piece=piece.id)


def _cut_tile(lattice: Lattice, piece: CutPiece) -> CutTile:
    corners = tile_corners(lattice, piece)
    along = to_tile_axes(lattice, corners - corners[0])
    low, size = along.min(axis=0), np.ptp(along, axis=0)
    corner = corners[0] + to_room_axes(lattice, low)
    return CutTile(
        id=piece.id,
        row=piece.row,
        column=piece.column,
        tile=piece.tile,
        length_mm=float(size[0]),
        width_mm=float(size[1]),
        outline=_from(corner, lattice, piece.outline),
        holes=tuple(_from(corner, lattice, hole) for hole in piece.holes),
        cuts=piece.cuts,
        position=(float(corner[0]), float(corner[1])),
        rotation_deg=lattice.rotation_deg,
    )


def _from(corner: Floats, lattice: Lattice, ring: Ring) -> Ring:
    return tuple((float(x), float(y)) for x, y in to_tile_axes(lattice, np.array(ring) - corner))
