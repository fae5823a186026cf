"""Which two pieces can come from one tile, whatever else does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import numpy.typing as npt
import shapely

from service.takeoff.kinds import Floats, Geometries, Ints, Kind, Places, TileSize, places_of
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point

Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Sharing:
    """Kinds in the places that they may have in a tile, `owner` being the kind of each place.

    `near[a, b, s]` says whether place b, turned by s of the tile's own turns, is clear of place a.
    """

    kinds: Sequence[Kind]
    tile: TileSize
    owner: Ints
    turn: Ints
    outlines: Geometries
    near: Bools

    def of(self, wanted: Sequence[bool]) -> Sharing:
        """The same for some of the kinds; the others have no places."""
        kept = np.asarray(wanted, np.bool_)[self.owner]
        near = self.near[kept][:, kept]
        return replace(
            self, owner=self.owner[kept], turn=self.turn[kept], outlines=self.outlines[kept], near=near
        )

    def at_best(self) -> Sharing:
        """Kinds that can be moved as if every piece beside them might have them where it suits it best; into
        the notch of another they may always go."""
        group = np.stack([self.owner, self.turn], axis=1)
        start = np.flatnonzero(np.any(np.diff(group, axis=0, prepend=-1), axis=1))
        near = np.logical_or.reduceat(np.logical_or.reduceat(self.near, start, axis=0), start, axis=1)
        kinds = [self.kinds[kind] for kind in self.owner[start].tolist()]
        moves = np.array([not kind.fixed for kind in kinds], np.bool_)
        notched = np.array([not kind.convex for kind in kinds], np.bool_)
        near |= ((moves[:, None] & notched) | (notched[:, None] & moves))[:, :, None]
        return replace(
            self, owner=self.owner[start], turn=self.turn[start], outlines=self.outlines[start], near=near
        )


def sharing_of(kinds: Sequence[Kind], tile: TileSize, kerf: float) -> Sharing:
    """Every two places of `kinds` tried against one another."""
    places = places_of(kinds, tile)
    outlines, corners = _turned(places, tile)
    near = np.zeros((len(places.kind), *corners.shape), np.bool_)
    a, b, s = np.nonzero(_may_be_near(kinds, tile, places.kind, corners))
    square = np.array([kind.square for kind in kinds], np.bool_)[places.kind]
    clear = _clear(outlines[a, 0], outlines[b, s], kerf, square[a] & square[b])
    near[a[clear], b[clear], s[clear]] = True
    near[b[clear], a[clear], -s[clear] % corners.shape[1]] = True
    return Sharing(kinds, tile, places.kind, places.turn, outlines, near)


def _turned(places: Places, tile: TileSize) -> tuple[Geometries, Ints]:
    """Outlines and corners of the places at each of the tile's own turns."""
    turns, quarters = range(360 // tile.step), tile.step // 90
    bits = [places.corners << (s * quarters) % 4 for s in turns]
    outlines = [places.outlines]
    outlines += [
        shapely.transform(outlines[0], partial(_about, tile.middle, s * tile.step)) for s in turns[1:]
    ]
    return np.stack(outlines, axis=1), np.stack([(each | each >> 4) & 15 for each in bits], axis=1)


def _about(middle: Point, degrees: int, points: Floats) -> Floats:
    """Points turned about the tile's middle, exact at quarter turns."""
    c, s = (round(f(math.radians(degrees)), 15) for f in (math.cos, math.sin))
    return np.asarray((points - middle) @ np.array([[c, s], [-s, c]]) + middle)


def _may_be_near(kinds: Sequence[Kind], tile: TileSize, owner: Ints, corners: Ints) -> Bools:
    """Pairs, each once, that neither the tile's area nor its corners forbid."""
    area = np.array([kinds[kind].area for kind in owner])
    count = np.array([len(kinds[kind].members) for kind in owner])
    fits = area[:, None] + area <= tile.area * (1 + 1e-9) + TOLERANCE
    fits &= np.triu(np.ones_like(fits)) & ((owner[:, None] != owner) | (count > 1))
    apart = (corners[:, :1, None] & corners[None, :, :]) == 0
    return np.asarray(fits[:, :, None] & apart)


def _clear(one: Geometries, other: Geometries, kerf: float, square: Bools) -> Bools:
    """Whether the saw can pass between two pieces; between two rectangles along the tile's sides."""
    clear = _gap(one, other) >= kerf - TOLERANCE
    open_ = ~clear & ~square
    clear[open_] = _far(one[open_], other[open_], kerf)
    return clear


def _gap(one: Geometries, other: Geometries) -> Floats:
    """Between the boxes of two pieces [mm], below zero where they overlap."""
    a, b = shapely.bounds(one).reshape(-1, 4), shapely.bounds(other).reshape(-1, 4)
    return np.asarray(np.maximum(a[:, :2] - b[:, 2:], b[:, :2] - a[:, 2:]).max(axis=1, initial=-np.inf))


def _far(one: Geometries, other: Geometries, kerf: float) -> Bools:
    far = shapely.distance(one, other) >= kerf - TOLERANCE
    if kerf <= 2 * TOLERANCE and len(one):
        far &= shapely.area(shapely.intersection(one, other)) <= TOLERANCE * shapely.length(one)
    return np.asarray(far)
