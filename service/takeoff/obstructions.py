"""What stands in the floor: its ground shape, checked against the room and against its neighbours."""

from __future__ import annotations

import math

from shapely import Point, Polygon

from service.takeoff.errors import InputError
from service.takeoff.rings import FACET, LARGEST_ROOM, TOLERANCE, circle, ring_polygon
from service.takeoff.room import AREA_KINDS, Obstruction


def ground_shapes(obstructions: tuple[Obstruction, ...], room: Polygon) -> tuple[Polygon | Point, ...]:
    """The polygon of each obstruction (a point for a pipe or drain of unknown size), in its order.

    InputError where one leaves the room (by more than the facets of a round one may) or overlaps another.
    """
    reach = room.buffer(TOLERANCE + FACET, join_style="mitre")
    shapes = tuple(_shape(o, f"/obstructions/{i}") for i, o in enumerate(obstructions))
    for i, shape in enumerate(shapes):
        if not reach.covers(shape):
            raise InputError(f"/obstructions/{i}", "does not lie inside the room")
        for j in range(i):
            if _overlap(shape, shapes[j]):
                raise InputError(f"/obstructions/{i}", f"overlaps obstruction {j}")
    return shapes


def _shape(obstruction: Obstruction, pointer: str) -> Polygon | Point:
    if (obstruction.outline is None) == (obstruction.centre is None):
        raise InputError(pointer, "needs either an outline or a centre")
    if obstruction.outline is not None:
        return ring_polygon(obstruction.outline, f"{pointer}/outline")
    return _round(obstruction, pointer)


def _round(obstruction: Obstruction, pointer: str) -> Polygon | Point:
    centre, diameter = obstruction.centre, obstruction.diameter
    if centre is None or not all(map(math.isfinite, centre)):
        raise InputError(f"{pointer}/centre", "needs two finite coordinates")
    if diameter is None and obstruction.kind not in AREA_KINDS:
        return Point(centre)
    if diameter is None or not TOLERANCE < diameter <= LARGEST_ROOM:
        raise InputError(f"{pointer}/diameter", "needs a diameter over 0")
    return circle(centre, diameter)


def _overlap(one: Polygon | Point, other: Polygon | Point) -> bool:
    if not one.intersects(other) or one.touches(other):
        return False
    shared = one.intersection(other)
    return bool(shared.length == 0 or shared.area > TOLERANCE * shared.length / 2)
