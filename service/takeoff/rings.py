"""Rings as callers draw them, checked and turned into polygons, and the one length tolerance."""

from __future__ import annotations

import math

import shapely
from shapely import Polygon
from shapely.validation import explain_validity

from service.takeoff.errors import InputError
from service.takeoff.room import Point, Ring

TOLERANCE = 1e-3
"""Lengths that differ by no more are equal [mm]. A thousandth of a millimetre is far below what a saw
can do and far above the noise of float millimetres, so that a tile that just fits counts as whole."""

LARGEST_ROOM = 1e6
"""No side of a room's bounding box is longer [mm]: a kilometre."""
FURTHEST = 1e8
"""No coordinate lies further from zero [mm], so that floats still resolve the tolerance."""
MOST_POINTS = 1000
"""Points of one ring."""

FACET = 0.02
"""How far a facet of a round obstruction may leave its circle [mm]."""


def ring_polygon(ring: Ring, pointer: str) -> Polygon:
    """The polygon inside `ring`; InputError at `pointer` where it has no clear inside."""
    _check_points(ring, pointer)
    polygon = Polygon(ring)
    _check_size(polygon, pointer)
    if not polygon.is_valid:
        raise InputError(
            pointer,
            f"crosses or touches itself ({explain_validity(polygon)}): give corners in order, once around.",
        )
    if polygon.area <= TOLERANCE * polygon.length:
        raise InputError(pointer, "encloses no area")
    return polygon


def _check_points(ring: Ring, pointer: str) -> None:
    if not all(math.isfinite(c) for point in ring for c in point):
        raise InputError(pointer, "has a coordinate that is not a finite number")
    if len(ring) < 3:
        raise InputError(pointer, "needs at least 3 points")
    if len(ring) > MOST_POINTS:
        raise InputError(pointer, f"has more than {MOST_POINTS} points")
    if len(set(ring)) < len(ring):
        raise InputError(pointer, "repeats a point; the ring closes by itself, each point stands once")
    if any(math.dist(a, b) <= TOLERANCE for a, b in zip(ring, ring[1:] + ring[:1], strict=True)):
        raise InputError(pointer, "repeats a point: two neighbours lie in one place")


def _check_size(polygon: Polygon, pointer: str) -> None:
    min_x, min_y, max_x, max_y = polygon.bounds
    if max(max_x - min_x, max_y - min_y) > LARGEST_ROOM:
        raise InputError(pointer, "is longer than 1 km; lengths are millimetres")
    if max(map(abs, polygon.bounds)) > FURTHEST:
        raise InputError(pointer, "lies more than 100 km from the zero point")


def circle(centre: Point, diameter: float) -> Polygon:
    """A regular polygon of the circle's own area, so finely cut that its facets do not show [mm]."""
    radius = diameter / 2
    half_step = math.acos(max(0.0, 1 - FACET / radius)) if radius > FACET else 0.5
    count = 4 * min(64, max(8, math.ceil(math.pi / half_step / 4)))
    step = 2 * math.pi / count
    r = radius * math.sqrt(step / math.sin(step))
    return Polygon(
        [(centre[0] + r * math.cos(i * step), centre[1] + r * math.sin(i * step)) for i in range(count)]
    )


def polygons(geometry: shapely.Geometry) -> tuple[Polygon, ...]:
    """The polygons of a geometry that are wider than the tolerance; lines, points and noise are dropped."""
    parts = shapely.get_parts(geometry)
    return tuple(p for p in parts if isinstance(p, Polygon) and p.area > TOLERANCE * p.length / 2)
