"""The shortest way over a floor, around the corners of its walls.

A shortest way in a polygon is straight but for the corners that stand into it (visibility graph; textbook of
de Berg et al., Computational Geometry, chapter 15).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient

from service.takeoff.rings import polygons
from service.takeoff.room import Point

NEAR = 0.01
"""How far a way may graze a wall [mm]."""
MOST_TURNS = 60
"""Where more corners stand into a floor, its outline is simplified until there are no more."""
TURNS_OF_A_HOLE = 4
"""Let each hole have besides: simplifying leaves it three at least."""

Floats = NDArray[np.float64]


@lru_cache(maxsize=64)
def longest_way_mm(places: tuple[Point, ...], goals: tuple[Point, ...], floor: Polygon) -> float:
    """Of the shortest ways over the floor, each to the goal nearest to its place, the longest [mm]."""
    return float(shortest_ways_mm(places, goals, floor).max())


def shortest_ways_mm(places: tuple[Point, ...], goals: tuple[Point, ...], floor: Polygon) -> Floats:
    """From each place the shortest way over the floor to a goal [mm]; straight where there is none."""
    outline, slack = _simplified(floor)
    ground = floor.buffer(max(slack, NEAR), join_style="mitre")
    shapely.prepare(ground)
    start, end = np.array(places), np.array(goals)
    ways = _seen(start, end, ground).min(axis=1)
    hidden = np.isinf(ways)
    if hidden.any():
        turns = _turns(outline)
        onward = _around(_seen(turns, end, ground).min(axis=1), _seen(turns, turns, ground))
        ways[hidden] = (_seen(start[hidden], turns, ground) + onward).min(axis=1, initial=np.inf)
    straight = np.hypot(*(start[:, None] - end[None]).transpose(2, 0, 1)).min(axis=1)
    shortest: Floats = np.where(np.isinf(ways), straight, ways)
    return shortest


def _seen(one: Floats, other: Floats, ground: shapely.Geometry) -> Floats:
    """Lengths of the straight lines between two sets of points, infinite where they leave the floor."""
    pairs = np.stack(np.broadcast_arrays(one[:, None], other[None]), axis=2)
    lines = shapely.linestrings(pairs)
    lengths: Floats = np.where(shapely.covers(ground, lines), shapely.length(lines), np.inf)
    return lengths


def _around(ways: Floats, between: Floats) -> Floats:
    """Ways from each turn over as many others as it takes (Bellman and Ford)."""
    for _ in ways:
        shorter = np.minimum(ways, (between + ways).min(axis=1))
        if np.array_equal(shorter, ways):
            break
        ways = shorter
    return ways


def _simplified(floor: Polygon) -> tuple[shapely.Geometry, float]:
    outline: shapely.Geometry = floor
    slack = 0.0
    most = MOST_TURNS + TURNS_OF_A_HOLE * sum(len(part.interiors) for part in polygons(floor))
    while len(_turns(outline)) > most and slack < floor.length:
        slack = max(2 * slack, 1.0)
        outline = floor.simplify(slack)
    return outline, slack


def _turns(floor: shapely.Geometry) -> Floats:
    """Corners that stand into the floor."""
    turned = [orient(polygon) for polygon in polygons(floor)]
    outlines = (ring for polygon in turned for ring in (polygon.exterior, *polygon.interiors))
    rings = [np.array(ring.coords[:-1]) for ring in outlines]
    return np.vstack([ring[_stands_in(ring)] for ring in rings])


def _stands_in(ring: Floats) -> NDArray[np.bool_]:
    (ax, ay), (bx, by) = (ring - np.roll(ring, 1, axis=0)).T, (np.roll(ring, -1, axis=0) - ring).T
    right: NDArray[np.bool_] = ax * by - ay * bx < 0
    return right
