"""How many tiles the cut pieces take when offcuts are used again, and which tile each comes from.

The rule of edges: a side of a piece that faces a joint must be a side that the tile had from the factory;
sawn sides go to walls and profiles. Tile may be turned, unless it is directional, never turned over. The
saw takes its kerf between two pieces.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property

from service.takeoff.choice import chosen
from service.takeoff.cutting_bound import area_bound, sets_bound
from service.takeoff.guillotine import Box, Cutter
from service.takeoff.kinds import Kind, Piece, TileSize, kinds_of
from service.takeoff.patterns import packed, patterns_of
from service.takeoff.rests import rests_of
from service.takeoff.room import Saw
from service.takeoff.sharing import Sharing, sharing_of
from service.takeoff.strip_bound import strip_bound

__all__ = ["Cutting", "Piece", "TileSize", "cut_from_tiles"]


Tiles = tuple[tuple[int, ...], ...]
Order = Callable[[Box], tuple[float, ...]]

_MOST_PATTERNS = 500
_MOST_PLACES = 160  # of pieces that are tried against one another
_PLACES_OF_MOVABLE = 4
_ORDERS: tuple[Order, ...] = (
    lambda box: (-box.area,),
    lambda box: (-max(box.length, box.width), -min(box.length, box.width)),
    lambda box: (-min(box.length, box.width), -max(box.length, box.width)),
    lambda box: (-box.length, -box.width),
    lambda box: (-box.width, -box.length),
)


@dataclass(frozen=True, slots=True)
class Cutting:
    """The numbers of the pieces that come from each tile, and a number of tiles that no cutting can go
    below."""

    tiles: Tiles
    bound: int

    @property
    def count(self) -> int:
        return len(self.tiles)


def cut_from_tiles(pieces: Sequence[Piece], tile: TileSize, saw: Saw) -> Cutting:
    """Share `pieces` out among as few tiles as can be found: quickly at first, and by the better ways only
    while the quick way misses the bound."""
    kinds = kinds_of([_free(piece) for piece in pieces] if saw.sawn_edges_at_joints else pieces, tile)
    if not kinds:
        return Cutting((), 0)
    work = Work.of(kinds, tile, saw.kerf)
    best, bound = work.quick(), area_bound(kinds, tile)
    if bound < len(best):
        bound = max(bound, work.bound())
    if bound < len(best):
        best = work.better(best, bound)
    if bound < len(best) and saw.sawn_edges_at_joints:
        best = min(best, cut_from_tiles(pieces, tile, Saw(saw.kerf)).tiles, key=len)
    return Cutting(best, bound)


def _free(piece: Piece) -> Piece:
    return replace(piece, box=replace(piece.box, sides=0))


@dataclass(frozen=True)
class Work:
    """All pieces by kind: those that have their place, or are no rectangles, with what they can share a
    tile with, part by part where there are many; and rectangles that can be moved."""

    kinds: Sequence[Kind]
    tile: TileSize
    kerf: float
    parts: Sequence[Sharing]
    loose: Sequence[Kind]

    @classmethod
    def of(cls, kinds: Sequence[Kind], tile: TileSize, kerf: float) -> Work:
        loose = [kind for kind in kinds if kind.square and not kind.fixed]
        placed = [kind for kind in kinds if not (kind.square and not kind.fixed)]
        places = sum(1 if kind.fixed else _PLACES_OF_MOVABLE for kind in placed)
        count = max(1, math.ceil(places / _MOST_PLACES))
        parts = [sharing_of(placed[i::count], tile, kerf) for i in range(count)]
        return cls(kinds, tile, kerf, parts, loose)

    def quick(self) -> Tiles:
        """Pieces that have their place, the largest first, then the others likewise."""
        return self._filled(_ORDERS[0])

    def bound(self) -> int:
        """What no cutting can go below; by area alone where there are many kinds."""
        strips = strip_bound(self.loose, self.tile, self.kerf)
        if len(self.parts) > 1 or len(self.loose) > _MOST_PLACES / _PLACES_OF_MOVABLE:
            return strips
        sharing = sharing_of(self.kinds, self.tile, self.kerf) if self.loose else self.parts[0]
        return max(strips, sets_bound(sharing))

    def better(self, first: Tiles, bound: int) -> Tiles:
        """The fewest tiles of several ways, and of the best choice among all tiles that occur in them."""
        known = [first, *(self._filled(order) for order in _ORDERS[1:] if self.loose)]
        best = min(known, key=len)
        if len(best) == bound:
            return best
        return chosen(self.kinds, known, self._further(), bound) or best

    def _further(self) -> list[tuple[int, ...]]:
        """Sets of pieces that have their place, if they are not too many."""
        if len(self.parts) > 1:
            return []
        part = self.parts[0]
        number = {kind.members: i for i, kind in enumerate(self.kinds)}
        sets = patterns_of(part.of([kind.fixed for kind in part.kinds]), _MOST_PATTERNS) or []
        return [tuple(number[part.kinds[kind].members] for kind in each) for each in sets]

    def _filled(self, order: Order) -> Tiles:
        cutter = Cutter(self.tile.box, self.kerf, not self.tile.directional)
        for pieces, rests in self._placed:
            cutter.begin(pieces, rests)
        for kind in sorted(self.loose, key=lambda kind: order(kind.box)):
            cutter.cut_all(kind.members, kind.box)
        return tuple(map(tuple, cutter.tiles))

    @cached_property
    def _placed(self) -> list[tuple[list[int], list[Box]]]:
        """Tiles of the pieces that have their place, and what is left for rectangles."""
        rest = cache(self._rests)
        return [
            ([piece for piece, _ in tile], rest(number, tuple(place for _, place in tile)))
            for number, part in enumerate(self.parts)
            for tile in packed(part)
        ]

    def _rests(self, part: int, places: tuple[int, ...]) -> list[Box]:
        if not self.loose:
            return []
        least = min(min(kind.box.length, kind.box.width) for kind in self.loose)
        outlines = self.parts[part].outlines.reshape(-1)
        return rests_of(self.tile, outlines[list(places)].tolist(), self.kerf, least)
