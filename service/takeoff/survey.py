"""Readings of a level over the ground, and what fills it up to its highest point."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPoint, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Reading

Heights = NDArray[np.float64]
"""Rows of place and height [mm]."""
NOISE = 1e-12
"""A part of the floor too small to count, in which a plane would be found badly."""


@lru_cache(maxsize=64)
def fill_mm(readings: tuple[Reading, ...], floor: Polygon | MultiPolygon | None = None) -> float:
    """Mean depth [mm] over the floor under the plane through its highest point.

    The ground is flat in the triangles between the readings (Delaunay), and only what of them lies on the
    floor counts; the mean depth of a piece of a plane is that at its centroid. Without a floor, where its
    shape is not known, all that lies between the readings counts. Kept, since every step that asks how high
    the ground stands asks for it.
    """
    read = np.array(list({(x, y): (x, y, height) for x, y, height in readings}.values()))
    known = read if floor is None else np.vstack([read, _carried(read, floor)])
    triangles = shapely.get_parts(shapely.delaunay_triangles(MultiPoint(known[:, :2])))
    parts = triangles if floor is None else shapely.intersection(triangles, floor)
    areas = shapely.area(parts)
    kept = areas > NOISE * areas.sum()
    heights = _at(shapely.centroid(parts[kept]), triangles[kept], known)
    return float(known[:, 2].max() - np.average(heights, weights=areas[kept]))


def deepest_mm(readings: Sequence[Reading]) -> float:
    """From the highest reading down to the lowest [mm]."""
    heights = [height for *_, height in readings]
    return max(heights) - min(heights)


def _carried(read: Heights, floor: BaseGeometry) -> Heights:
    """Corners of the floor that lie beyond all readings, with the height that they are taken to have.

    That of the nearest reading, carried on along the mean slope of all, by no more than the readings
    themselves differ.
    """
    hull = MultiPoint(read[:, :2]).convex_hull.buffer(TOLERANCE)
    corners = shapely.get_coordinates(floor.convex_hull)[:-1]
    corners = corners[~shapely.contains_xy(hull, corners)]
    apart = corners[:, None, :] - read[None, :, :2]
    nearest = (apart**2).sum(axis=2).argmin(axis=1)
    slope, *_ = np.linalg.lstsq(read[:, :2] - read[:, :2].mean(axis=0), read[:, 2] - read[:, 2].mean())
    most = np.ptp(read[:, 2])
    carried = ((corners - read[nearest, :2]) @ slope).clip(-most, most)
    return np.column_stack([corners, read[nearest, 2] + carried])


def _at(points: NDArray[np.object_], triangles: NDArray[np.object_], known: Heights) -> Heights:
    """Heights at points, each in the plane of its triangle between known heights."""
    height = {(x, y): z for x, y, z in known.tolist()}
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    heights = np.array([[height[x, y] for x, y in triangle] for triangle in corners.tolist()])
    first, sides = corners[:, :1], corners[:, 1:] - corners[:, :1]
    ways = shapely.get_coordinates(points)[:, :, None] - first.transpose(0, 2, 1)
    shares = np.linalg.solve(sides.transpose(0, 2, 1), ways)[:, :, 0]
    at: Heights = heights[:, 0] + (shares * (heights[:, 1:] - heights[:, :1])).sum(axis=1)
    return at
