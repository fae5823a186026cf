"""Pieces of any outline that share tiles, each in the tile where it lies on the floor, turned or not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon, affinity

from service.takeoff.rings import TOLERANCE

Geometries = npt.NDArray[np.object_]


@dataclass
class _Sharing:
    """One tile: the pieces in it, what they cover, and the area that is still free [mm2]."""

    members: list[int] = field(default_factory=list)
    free: float = 0.0


def share_tiles(outlines: Sequence[Polygon], size: tuple[float, float], kerf: float) -> list[list[int]]:
    """Indices of the pieces by the tile that they come from, the largest pieces first, first fit.

    `outlines` have the tile's low corner at zero. A turn about the tile's middle keeps factory sides on
    the tile's sides: a half turn always, quarter turns where the tile is square.
    """
    turns = (0, 90, 180, 270) if abs(size[0] - size[1]) <= TOLERANCE else (0, 180)
    tiles: list[_Sharing] = []
    covered: Geometries = np.empty(len(outlines), object)
    for i in sorted(range(len(outlines)), key=lambda i: (-outlines[i].area, i)):
        area = outlines[i].area
        open_ones = [t for t, tile in enumerate(tiles) if tile.free >= area - TOLERANCE * size[0]]
        place = _place(outlines[i], covered[open_ones], size, kerf, turns)
        if place is None:
            tiles.append(_Sharing([i], size[0] * size[1] - area))
            covered[len(tiles) - 1] = outlines[i]
            continue
        t, turned = open_ones[place[0]], place[1]
        tiles[t].members.append(i)
        tiles[t].free -= area
        covered[t] = shapely.union(covered[t], turned)
    return [tile.members for tile in tiles]


def _place(
    piece: Polygon, covered: Geometries, size: tuple[float, float], kerf: float, turns: Sequence[int]
) -> tuple[int, Polygon] | None:
    """The first open tile that has room, and the piece as turned for it."""
    best: tuple[int, Polygon] | None = None
    for turn in turns if len(covered) else ():
        turned = affinity.rotate(piece, turn, origin=(size[0] / 2, size[1] / 2))
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
