"""The cut list: every piece that is not a whole tile, as the saw wants it and where it goes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from service.takeoff.answer import CutPiece, Cuts, Lattice, Plan
from service.takeoff.placed import tile_corners, to_room_axes, to_tile_axes
from service.takeoff.room import Point, Ring
from service.takeoff.sweep import Floats


@dataclass(frozen=True, slots=True)
class CutTile:
    """One piece: `outline` and `holes` from the low corner of its tile along the tile's sides [mm], the
    tile's size, and where in the room that corner lies and how the tile is turned."""

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


def cut_list(plan: Plan) -> tuple[CutTile, ...]:
    """The pieces of a plan in the order of their numbers."""
    return tuple(_cut_tile(plan.lattice, piece) for piece in plan.cut)


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
