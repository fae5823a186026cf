"""A number of tiles that no cutting of rectangular pieces can go below, under the same edge rule.

Three true bounds: area; the tile's corners, since a piece with two neighbouring factory sides takes one of
four; and pieces of which no two can come from one tile, with the corners or area of those that can share
with none of them (the idea of Martello and Toth's bound for bins, Knapsack Problems, ch. 8).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from service.takeoff.guillotine import BOTTOM, LEFT, RIGHT, TOP, Box
from service.takeoff.rings import TOLERANCE

_CORNERS = (LEFT | BOTTOM, BOTTOM | RIGHT, RIGHT | TOP, TOP | LEFT)
_MOST_KINDS = 200  # beyond so many different pieces the pairwise bound is left out


def cutting_bound(pieces: Sequence[Box], tile: Box, kerf: float) -> int:
    """The bound for `pieces`, whose `sides` must be factory sides."""
    kinds = Counter(piece.rounded() for piece in pieces)
    plain = _plain(kinds, tile)
    if len(kinds) > _MOST_KINDS:
        return plain
    pairs = _Pairs(tile, kerf)
    alone = (pairs.each_alone(kinds, singles) for singles in (False, True))
    return max(plain, *(_with_alone(kinds, held, pairs) for held in alone))


def _with_alone(kinds: Mapping[Box, int], alone: Sequence[Box], pairs: _Pairs) -> int:
    """A tile for each piece that must be alone, and those for pieces that can share with none of them."""
    others = {
        kind: count
        for kind, count in kinds.items()
        if kind not in alone and not any(pairs.may_share(kind, one) for one in alone)
    }
    return sum(kinds[kind] for kind in alone) + _plain(others, pairs.tile)


def _plain(kinds: Mapping[Box, int], tile: Box) -> int:
    """By area and by the tile's four corners."""
    area = math.fsum(count * kind.area for kind, count in kinds.items()) / tile.area
    corners = sum(count * _corners(kind) for kind, count in kinds.items()) / len(_CORNERS)
    return max(math.ceil(area - TOLERANCE), math.ceil(corners))


def _corners(kind: Box) -> int:
    return sum(kind.sides & corner == corner for corner in _CORNERS)


@dataclass(frozen=True)
class _Pairs:
    """Which two pieces may come from one tile, whatever else does."""

    tile: Box
    kerf: float

    def each_alone(self, kinds: Mapping[Box, int], singles: bool) -> list[Box]:
        """Kinds of which no two pieces can share a tile, gathered from the largest down; `singles` takes
        in kinds of which there is one piece only."""
        alone: list[Box] = []
        for kind in sorted(kinds, key=lambda k: (-k.area, k)):
            lonely = (singles and kinds[kind] == 1) or not self.may_share(kind, kind)
            if lonely and not any(self.may_share(kind, one) for one in alone):
                alone.append(kind)
        return alone

    def may_share(self, one: Box, other: Box) -> bool:
        return any(self._beside(a, b) for a, b in product(self._ways(one), self._ways(other)))

    def _ways(self, piece: Box) -> list[Box]:
        """The piece upright and turned, where it then fits the tile and its factory sides."""
        return [way for way in (piece, piece.turned()) if self._fits(way)]

    def _fits(self, way: Box) -> bool:
        return _spans(way, LEFT | RIGHT, way.length, self.tile.length) and _spans(
            way, BOTTOM | TOP, way.width, self.tile.width
        )

    def _beside(self, a: Box, b: Box) -> bool:
        """Two rectangles in a tile lie beside or above one another, the kerf between them."""
        return (
            a.length + b.length + self.kerf <= self.tile.length + TOLERANCE
            or a.width + b.width + self.kerf <= self.tile.width + TOLERANCE
        )


def _spans(way: Box, both: int, side: float, whole: float) -> bool:
    """Two opposite factory sides reach from edge to edge of the tile; otherwise the piece need only fit."""
    at_least = whole - 2 * TOLERANCE if way.sides & both == both else 0.0
    return at_least <= side <= whole + 2 * TOLERANCE
