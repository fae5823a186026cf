"""Straight lines across a floor: its main direction, and how much of a line lies on it."""

from __future__ import annotations

from math import atan2, cos, degrees, pi, sin

from shapely import LineString, get_parts
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from service.takeoff.geometry import FloorShape
from service.takeoff.room import Point

Span = tuple[float, float]
LEAST_MM = 0.01  # shorter pieces are noise of turning the floor and back
NO_TURN = 2.5e-16  # cosine or sine of a quarter turn


def main_direction(shape: FloorShape) -> float:
    """The direction of the longest wall [degrees, 0 to under 90], or edge where nothing is a wall."""
    walls = [edge for edge in shape.edges if edge.wall] or list(shape.edges)
    longest = max(walls, key=lambda edge: round(edge.length, 3))
    (x0, y0), (x1, y1) = longest.start, longest.end
    return round(degrees(atan2(y1 - y0, x1 - x0)), 9) % 90.0


def turned(geometry: BaseGeometry, angle: float) -> BaseGeometry:
    """The geometry turned about the room's own zero [degrees anticlockwise]."""
    return rotate(geometry, angle, origin=(0.0, 0.0)) if angle else geometry


def turned_point(point: Point, angle: float) -> Point:
    """One point turned about the room's own zero [degrees anticlockwise]."""
    c, s = _unit(angle)
    return c * point[0] - s * point[1], s * point[0] + c * point[1]


def _unit(angle: float) -> Point:
    """Cosine and sine as geometries are turned by, so that points stay on their edges."""
    turn = angle * pi / 180.0
    c, s = cos(turn), sin(turn)
    return (0.0 if abs(c) < NO_TURN else c), (0.0 if abs(s) < NO_TURN else s)


def level_spans(floor: BaseGeometry, y: float) -> list[Span]:
    """Where the level line at `y` lies on the floor, from left to right [mm]."""
    left, _, right, _ = floor.bounds
    return _spans(floor, LineString([(left - 1.0, y), (right + 1.0, y)]), axis=0)


def upright_spans(floor: BaseGeometry, x: float) -> list[Span]:
    """Where the upright line at `x` lies on the floor, from below upwards [mm]."""
    _, low, _, high = floor.bounds
    return _spans(floor, LineString([(x, low - 1.0), (x, high + 1.0)]), axis=1)


def common_spans(one: list[Span], other: list[Span]) -> list[Span]:
    """The stretches that two rows of spans share."""
    shared = ((max(a[0], b[0]), min(a[1], b[1])) for a in one for b in other)
    return [span for span in sorted(shared) if span[1] - span[0] > LEAST_MM]


def merged(spans: list[Span]) -> list[Span]:
    """Spans that touch or overlap made one."""
    whole: list[Span] = []
    for start, end in sorted(spans):
        if whole and start <= whole[-1][1] + LEAST_MM:
            whole[-1] = (whole[-1][0], max(whole[-1][1], end))
        else:
            whole.append((start, end))
    return whole


def _spans(floor: BaseGeometry, line: LineString, axis: int) -> list[Span]:
    pieces = [piece for piece in get_parts(floor.intersection(line)) if piece.length > LEAST_MM]
    ends = (sorted(point[axis] for point in piece.coords) for piece in pieces)
    return merged([(end[0], end[-1]) for end in ends])
