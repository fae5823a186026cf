"""How many tiles the cut pieces take when offcuts are used again.

The edge rule: a side of a piece that faces a joint must be a side that the tile had from the factory;
sawn sides go to walls and profiles. Tile may be turned, never turned over. The saw takes its kerf between
two pieces.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely import Polygon

from service.takeoff.cutting_bound import cutting_bound
from service.takeoff.guillotine import Box, Cutter
from service.takeoff.pairing import share_tiles
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Saw


@dataclass(frozen=True, slots=True)
class TileSize:
    """The bounding box of the tile that pieces are cut from [mm], and the tile's own area [mm2]."""

    length: float
    width: float
    area: float
    rectangular: bool = True

    @property
    def turns(self) -> tuple[int, ...]:
        """Turns about its middle that lay the tile, if no rectangle a regular hexagon, onto itself."""
        if not self.rectangular:
            return (0, 60, 120, 180, 240, 300)
        return (0, 90, 180, 270) if abs(self.length - self.width) <= TOLERANCE else (0, 180)


@dataclass(frozen=True, slots=True)
class Piece:
    """A cut piece: its box along the tile's axes with the sides that must be factory sides [mm], its area
    [mm2], and, unless it fills its box, its outline with the tile's low corner at zero."""

    box: Box
    area: float
    outline: Polygon | None = None


def tiles_needed(pieces: Sequence[Piece], tile: TileSize, saw: Saw) -> tuple[int, int]:
    """Tiles that `pieces` are cut from, and a number that no cutting can go below.

    Pieces that are not rectangles share tiles first, then rectangles go into what is left of tiles, the
    largest first, each where it fits best.
    """
    held = [_free(piece) for piece in pieces] if saw.sawn_edges_at_joints else list(pieces)
    whole = Box(tile.length, tile.width)
    cutter = Cutter(whole, saw.kerf)
    _cut_odd([piece for piece in held if piece.outline is not None], tile, cutter)
    boxes = [piece.box for piece in held if piece.outline is None]
    for box in sorted(boxes, key=lambda box: (-round(box.area, 3), box)):
        cutter.cut(box)
    by_area = math.fsum(piece.area for piece in held) / tile.area
    bound = max(math.ceil(by_area - TOLERANCE), cutting_bound(boxes, whole, saw.kerf))
    return cutter.tiles, bound


def _free(piece: Piece) -> Piece:
    return replace(piece, box=replace(piece.box, sides=0))


def _cut_odd(odd: Sequence[Piece], tile: TileSize, cutter: Cutter) -> None:
    outlines = [piece.outline for piece in odd if piece.outline is not None]
    middle = (tile.length / 2, tile.width / 2)
    for group in share_tiles(outlines, middle, tile.area, tile.turns, cutter.kerf):
        if len(group) == 1 and tile.rectangular:
            cutter.cut_new(odd[group[0]].box)
        else:
            cutter.use_up()
