"""The field: the floor less a strip as deep as the perimeter joint along everything that restrains it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import shapely
from shapely import MultiPolygon, Polygon

from service.takeoff.boundary import Part, PartRing, joined, turn
from service.takeoff.rings import polygons
from service.takeoff.room import Point

MITRE_LIMIT = 5.0
"""The tip of a strip around a sharp outside corner is cut off at this many depths from the corner."""


def field_of(rings: Sequence[Sequence[PartRing]], depth: float) -> Polygon | MultiPolygon:
    """The tiled field of a floor whose edge is `rings` (per polygon, outer ring first), depth in mm.

    Strips are mitred where two restrained parts meet at an outside corner and end square at jambs.
    """
    floor = [floor_of(polygon_rings) for polygon_rings in rings]
    strips = [s for polygon_rings in rings for ring in polygon_rings for s in _strips(ring, depth)]
    whole = shapely.union_all(floor) if len(floor) > 1 else floor[0]
    left = polygons(whole.difference(shapely.union_all(strips)) if strips else whole)
    return left[0] if len(left) == 1 else MultiPolygon(left)


def floor_of(rings: Sequence[PartRing]) -> Polygon:
    """The polygon inside an outer ring and outside the further ones."""
    outer, *inner = [[part.start for part in ring] for ring in rings]
    return Polygon(outer, inner)


def _strips(ring: PartRing, depth: float) -> Iterator[Polygon]:
    if depth <= 0:
        return
    for part in ring:
        if part.restrained:
            yield _strip(part, depth)
    for before, after in joined(ring):
        if before.restrained and after.restrained and turn(before, after) < 0:
            yield _mitre(before, after, depth)


def _strip(part: Part, depth: float) -> Polygon:
    inward = _scaled(_left(part), depth)
    return Polygon([part.start, part.end, _add(part.end, inward), _add(part.start, inward)])


def _mitre(before: Part, after: Part, depth: float) -> Polygon:
    """The wedge between two strips around an outside corner."""
    corner, n0, n1 = after.start, _left(before), _left(after)
    cosine = n0[0] * n1[0] + n0[1] * n1[1]
    base = [corner, _add(corner, _scaled(n0, depth))]
    last = _add(corner, _scaled(n1, depth))
    half = math.sqrt(max(0.0, 1 + cosine) / 2)
    if half * MITRE_LIMIT >= 1:
        tip = _add(corner, _scaled((n0[0] + n1[0], n0[1] + n1[1]), depth / (1 + cosine)))
        return Polygon([*base, tip, last])
    ahead = depth * (MITRE_LIMIT - half) / math.sqrt(1 - half * half)
    tips = [_add(base[1], _scaled(_along(before), ahead)), _add(last, _scaled(_along(after), -ahead))]
    return Polygon([*base, *tips, last])


def _along(part: Part) -> Point:
    return ((part.end[0] - part.start[0]) / part.length, (part.end[1] - part.start[1]) / part.length)


def _left(part: Part) -> Point:
    x, y = _along(part)
    return (-y, x)


def _scaled(vector: Point, factor: float) -> Point:
    return (vector[0] * factor, vector[1] * factor)


def _add(one: Point, other: Point) -> Point:
    return (one[0] + other[0], one[1] + other[1])
