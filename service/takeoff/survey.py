"""Readings of a level over the ground, and what fills it up to its highest point."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
from shapely import MultiPoint

from service.takeoff.room import Reading


@lru_cache(maxsize=64)
def fill_mm(readings: tuple[Reading, ...]) -> float:
    """Mean depth [mm] under the plane through the highest reading, the ground being flat between readings.

    The triangles between the readings (Delaunay) stand for the ground; of three corners the mean depth of a
    triangle is the mean of theirs. Kept, since every step that asks how high the ground stands asks for it.
    """
    top = max(height for *_, height in readings)
    depth = {(x, y): top - height for x, y, height in readings}
    triangles = shapely.get_parts(shapely.delaunay_triangles(MultiPoint(list(depth))))
    corners = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    depths = np.array([[depth[x, y] for x, y in triangle] for triangle in corners.tolist()]).mean(axis=1)
    return float(np.average(depths, weights=shapely.area(triangles)))


def deepest_mm(readings: Sequence[Reading]) -> float:
    """From the highest reading down to the lowest [mm]."""
    heights = [height for *_, height in readings]
    return max(heights) - min(heights)
