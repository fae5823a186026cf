"""A number of tiles that no cutting of strips from side to side of the tile can go below."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from service.cutting.stock import Demand, Stock, cut
from service.takeoff.guillotine import Box
from service.takeoff.kinds import Kind, TileSize
from service.takeoff.rings import TOLERANCE

_NODES = 50


def strip_bound(kinds: Sequence[Kind], tile: TileSize, kerf: float) -> int:
    """Strips from side to side of the tile lie side by side, whatever else is cut, so that they are lengths
    cut from a stick; strips across and along an oblong tile cannot share it."""
    widths: dict[float, list[Demand]] = defaultdict(list)
    for kind in kinds:
        strip = _strip(kind.box, tile) if kind.square else None
        if strip:
            widths[strip[0]].append(Demand(strip[1], len(kind.members)))
    return sum(
        math.ceil(cut(lengths, [Stock(along)], kerf, _NODES).bound - TOLERANCE)
        for along, lengths in widths.items()
    )


def _strip(box: Box, tile: TileSize) -> tuple[float, float] | None:
    """The side of the tile that a strip takes up and how much of it, if however it lies it is one."""
    ways = [way for way in (box, box.turned()) if _fits(way, tile)]
    across = [(round(tile.length, 3), way.length) for way in ways if way.width >= tile.width - TOLERANCE]
    along = [(round(tile.width, 3), way.width) for way in ways if way.length >= tile.length - TOLERANCE]
    sides = {side for side, _ in (*across, *along)}
    if len(sides) != 1 or len(across) + len(along) < len(ways):
        return None
    return min((*across, *along))


def _fits(way: Box, tile: TileSize) -> bool:
    return way.length <= tile.length + TOLERANCE and way.width <= tile.width + TOLERANCE
