"""Pieces of any outline that share tiles, each in the tile where it lies on the floor, turned or not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon, affinity

from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point

Geometries = npt.NDArray[np.object_]


@dataclass
class _Sharing:
    """One tile: the pieces in it, what they cover, and the area that is still free [mm2]."""

    members: list[int] = field(default_factory=list)
    free: float = 0.0


def share_tiles(
    outlines: Sequence[Polygon], middle: Point, area: float, turns: Sequence[int], kerf: float
) -> list[list[int]]:
    """Indices of the pieces by the tile that they come from, the largest pieces first, first fit.

    `outlines` have the tile's low corner at zero; `turns` about its `middle` lay the tile onto itself, so
    that factory sides stay on the tile's sides; `area` is the tile's.
    """
    tiles: list[_Sharing] = []
    covered: Geometries = np.empty(len(outlines), object)
    for i in sorted(range(len(outlines)), key=lambda i: (-outlines[i].area, i)):
        taken = outlines[i].area
        open_ones = [t for t, tile in enumerate(tiles) if tile.free >= taken - TOLERANCE * outlines[i].length]
        place = _place(outlines[i], covered[open_ones], middle, kerf, turns)
        if place is None:
            tiles.append(_Sharing([i], area - taken))
            covered[len(tiles) - 1] = outlines[i]
            continue
        t, turned = open_ones[place[0]], place[1]
        tiles[t].members.append(i)
        tiles[t].free -= taken
        covered[t] = shapely.union(covered[t], turned)
    return [tile.members for tile in tiles]


def _place(
    piece: Polygon, covered: Geometries, middle: Point, kerf: float, turns: Sequence[int]
) -> tuple[int, Polygon] | None:
    """The first open tile that has room, and the piece as turned for it."""
    best: tuple[int, Polygon] | None = None
    for turn in turns if len(covered) else ():
        turned = affinity.rotate(piece, turn, origin=middle)
        fits = np.flatnonzero(_clear(turned, covered, kerf))
        if len(fits) and (best is None or fits[0] < best[0]):
            best = (int(fits[0]), turned)
    return best


def _clear(piece: Polygon, covered: Geometries, kerf: float) -> npt.NDArray[np.bool_]:
    """Whether the saw can pass between the piece and what is cut already."""
    far = shapely.distance(piece, covered) >= kerf - TOLERANCE
    if kerf > TOLERANCE:
        return np.asarray(far)
    near = shapely.area(shapely.intersection(piece, covered))
    return np.asarray(far & (near <= TOLERANCE * piece.length))
