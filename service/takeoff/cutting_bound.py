"""A number of tiles that no cutting can go below, under the same rule of factory edges.

Rectangles are sawn along the tile's sides, other pieces in quarter turns of how they lie. Then whatever is
cut from one tile is a set of pieces of which every two can share it, with no more area than the tile's and
no more factory corners than its four. The linear programme over all such sets (Gilmore and Gomory 1961) asks
for no more tiles than any cutting takes. Where the sets are too many, small pieces are left out of them.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from service.takeoff.covering import Demand, relaxed
from service.takeoff.kinds import CORNERS, Kind, TileSize
from service.takeoff.patterns import Pattern, patterns_of
from service.takeoff.rings import TOLERANCE
from service.takeoff.sharing import Sharing

_MOST_PATTERNS = 1000
_SMALL = ((0.0, 0.1), (0.0, 1 / 3), (0.1, 1 / 3), (0.2, 1 / 3), (1 / 3, 1 / 3), (1 / 2, 1 / 2))
"""Shares of a tile, tried in turn: pieces below the first, and those that can be moved below the second,
are left out of the sets."""


def area_bound(kinds: Sequence[Kind], tile: TileSize) -> int:
    """By area and by the tile's four corners."""
    area = math.fsum(len(kind.members) * kind.area for kind in kinds) / tile.area
    corners = sum(len(kind.members) * kind.corners for kind in kinds) / len(CORNERS)
    return max(math.ceil(area - TOLERANCE), math.ceil(corners))


def sets_bound(sharing: Sharing) -> int:
    """By sets of pieces that can share a tile."""
    for small in _SMALL:
        counted = [_counted(kind, sharing.tile, *small) for kind in sharing.kinds]
        patterns = patterns_of(sharing.of(counted).at_best(), _MOST_PATTERNS)
        if patterns is not None:
            return relaxed(_demand(sharing, counted, patterns))
    return 0


def _counted(kind: Kind, tile: TileSize, fixed: float, movable: float) -> bool:
    """Whether the sets take this kind in; whatever is not convex must have its place."""
    least = fixed if kind.fixed else movable
    return kind.area > least * tile.area and (kind.fixed or kind.convex)


def _demand(sharing: Sharing, counted: Sequence[bool], patterns: Sequence[Pattern]) -> Demand:
    """Each counted kind is a row, each set a column."""
    kinds = zip(sharing.kinds, counted, strict=True)
    counts = [len(kind.members) if is_counted else 0 for kind, is_counted in kinds]
    return Demand(counts, [list(Counter(pattern).items()) for pattern in patterns])
