"""A plain way to count a floor, as the measure of every quicker one: clip every tile of it with shapely."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from service.takeoff.lattice import Repeat
from service.takeoff.room import Point

TOLERANCE = 1e-3
Geometries = npt.NDArray[np.object_]


@dataclass(frozen=True)
class Clipped:
    """Whole tiles, laid pieces, and the narrowest side of a piece as a share of its tile's; `gap` where a
    strip is too narrow to lay and wider than the joint."""

    whole: int
    pieces: int
    narrowest_share: float
    gap: bool


def tiles_on(field: shapely.Geometry, repeat: Repeat, origin: Point) -> Geometries:
    """Every tile of the lattice whose box meets the field's box and that meets the field."""
    x0, y0, x1, y1 = field.bounds
    steps = np.array([[repeat.step_x, repeat.rise], [repeat.shift, repeat.step_y]])
    corners = np.array([(x, y) for x in (x0, x1) for y in (y0, y1)]) - np.array(origin)
    cells = corners @ np.linalg.inv(steps)
    (c0, r0), (c1, r1) = np.floor(cells.min(axis=0)) - 2, np.ceil(cells.max(axis=0)) + 2
    column, row = np.meshgrid(np.arange(c0, c1), np.arange(r0, r1))
    at = np.stack([column.ravel(), row.ravel()], axis=1) @ steps + np.array(origin)
    rings = np.concatenate([np.asarray(tile) + at[:, None] for tile in repeat.tiles])
    tiles = np.asarray(shapely.polygons(rings))
    shapely.prepare(field)
    return tiles[shapely.intersects(field, tiles)]


def clip(field: shapely.Geometry, tiles: Geometries) -> tuple[npt.NDArray[np.float64], ...]:
    """Boxes and areas of the parts of every tile on the field, and the tile each is part of."""
    parts, owner = shapely.get_parts(shapely.intersection(field, tiles), return_index=True)
    return shapely.bounds(parts).reshape(-1, 4), shapely.area(parts), owner


def count(
    field: shapely.Geometry, tiles: Geometries, size: Point, area: float, least: float, joint: float
) -> Clipped:
    """What the tiles make of the field; `area` is a whole tile's [mm2], `least` the narrowest piece [mm]."""
    box, areas, _ = clip(field, tiles)
    sides = box[:, 2:] - box[:, :2]
    real = areas > TOLERANCE * sides.sum(axis=1)
    sides, areas = sides[real], areas[real]
    narrow = sides.min(axis=1, initial=math.inf)
    laid = narrow >= min(least, *size) - TOLERANCE
    share = (sides[laid] / size).min(initial=1.0)
    gap = bool((narrow[~laid] > joint + TOLERANCE).any())
    whole = int((areas >= area - TOLERANCE * sum(size)).sum())
    return Clipped(whole, int(laid.sum()), float(share), gap)
