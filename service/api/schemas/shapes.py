"""From a room's shape as said to its outline: a rectangle, parts, a run of walls, or a bare area."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from shapely import LinearRing, Polygon, box, is_valid_reason, unary_union
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from service.takeoff.errors import InputError
from service.takeoff.room import BareArea, Outline, Point, Ring

LARGEST_CLOSING_ERROR = 0.01
"""Of the run's length: a tape walk round a room closes better than one in a hundred (common practice)."""
_TURNS = {"left": 1, "right": -1}
_HEADINGS = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))


def shape_of(data: Mapping[str, Any]) -> Outline | BareArea:
    """The shape of a room that went through its schema; InputError points into the room."""
    if "area_m2" in data:
        return _bare(data)
    ring, holes, closing_error = _rings(data)
    edges = len(ring) + sum(map(len, holes))
    return Outline(ring, holes, _walls(data.get("walls", "all"), edges), closing_error)


def shape_member(data: Mapping[str, Any]) -> str:
    """The member in which the caller gave the shape."""
    return next(name for name in ("rectangle", "parts", "walls_run", "area_m2", "outline") if name in data)


def edge_lengths(outline: Outline) -> list[float]:
    """Lengths [mm] of the edges in their numbering, the outline's first and then each hole's."""
    return [
        math.dist(start, end)
        for ring in (outline.ring, *outline.holes)
        for start, end in zip(ring, (*ring[1:], ring[0]), strict=True)
    ]


def _rings(data: Mapping[str, Any]) -> tuple[Ring, tuple[Ring, ...], float]:
    if "rectangle" in data:
        return _rectangle(data["rectangle"]), (), 0.0
    if "parts" in data:
        return (*_parts(data["parts"]), 0.0)
    if "walls_run" in data:
        ring, closing_error = _walls_run(data["walls_run"])
        return ring, (), closing_error
    return as_ring(data["outline"]), tuple(map(as_ring, data.get("holes", ()))), 0.0


def as_ring(points: Sequence[Sequence[float]]) -> Ring:
    return tuple((x, y) for x, y in points)


def _bare(data: Mapping[str, Any]) -> BareArea:
    area, perimeter = data["area_m2"], data["perimeter"]
    shortest = 4000 * math.sqrt(area)
    if perimeter < shortest * (1 - 1e-9):
        raise InputError(
            "/perimeter", f"No rectangle of {area:g} m2 has less than {shortest:.0f} mm around it."
        )
    for name in ("doorways", "obstructions", "zones"):
        if data.get(name):
            raise InputError(f"/{name}", "A bare area has no places; give the shape instead.")
    if data.get("walls", "all") != "all":
        raise InputError("/walls", "A bare area has no numbered walls.")
    return BareArea(area, perimeter)


def _walls(walls: str | Sequence[int], edges: int) -> tuple[int, ...]:
    if isinstance(walls, str):
        return tuple(range(edges))
    for place, wall in enumerate(walls):
        if wall >= edges:
            raise InputError(f"/walls/{place}", f"The outline has edges 0 to {edges - 1}.")
    return tuple(sorted(set(walls)))


def _rectangle(sides: Mapping[str, float]) -> Ring:
    length, width = sides["length"], sides["width"]
    return ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


def _parts(parts: Sequence[Mapping[str, Any]]) -> tuple[Ring, tuple[Ring, ...]]:
    """Outer ring anticlockwise, holes clockwise, each from its lowest corner of those furthest left."""
    whole: BaseGeometry = Polygon()
    for part in parts:
        x, y = part["at"]
        piece = box(x, y, x + part["length"], y + part["width"])
        whole = unary_union([whole, piece]) if part["op"] == "add" else whole.difference(piece)
    if whole.is_empty or not isinstance(whole, Polygon):
        raise InputError("/parts", "The parts do not make one connected floor.")
    if not whole.is_valid:
        raise InputError("/parts", f"The parts make no simple floor: {is_valid_reason(whole)}.")
    plain = orient(whole)
    return _from_lowest(plain.exterior), tuple(sorted(map(_from_lowest, plain.interiors)))


def _from_lowest(ring: LinearRing) -> Ring:
    """The corners of a ring, those on a straight line left out, from its lowest of those furthest left."""
    points = [(x, y) for x, y in ring.coords][:-1]
    corners = [point for place, point in enumerate(points) if _turns(points, place)]
    first = min(range(len(corners)), key=lambda place: corners[place])
    return (*corners[first:], *corners[:first])


def _turns(points: Sequence[Point], place: int) -> bool:
    (ax, ay), (bx, by), (cx, cy) = points[place - 1], points[place], points[(place + 1) % len(points)]
    return (bx - ax) * (cy - by) != (by - ay) * (cx - bx)


def _walls_run(walls: Sequence[Mapping[str, Any]]) -> tuple[Ring, float]:
    """The ring of a walk along the walls from (0, 0) towards +x, and by how much [mm] the walk did not close.

    The error is spread over the walls of each direction by their lengths (the surveyor's transit rule), which
    keeps every corner square.
    """
    turned = sum(_TURNS[wall["turn"]] for wall in walls)
    if abs(turned) != 4:
        raise InputError("/walls_run", f"The turns add up to {90 * turned} degrees; a closed room wants 360.")
    steps = _steps(walls)
    errors = [sum(step[axis] for step in steps) for axis in (0, 1)]
    walked = [sum(abs(step[axis]) for step in steps) for axis in (0, 1)]
    if math.hypot(*errors) > LARGEST_CLOSING_ERROR * sum(walked):
        raise InputError("/walls_run", f"The walls miss their start by {math.hypot(*errors):.0f} mm.")
    shares = [error / length for error, length in zip(errors, walked, strict=True)]
    corners, x, y = [], 0.0, 0.0
    for dx, dy in steps:
        corners.append((x, y))
        x, y = x + dx - shares[0] * abs(dx), y + dy - shares[1] * abs(dy)
    return as_ring(corners), math.hypot(*errors)


def _steps(walls: Sequence[Mapping[str, Any]]) -> list[Point]:
    steps, heading = [], 0
    for wall in walls:
        along_x, along_y = _HEADINGS[heading % 4]
        steps.append((along_x * wall["length"], along_y * wall["length"]))
        heading += _TURNS[wall["turn"]]
    return steps
