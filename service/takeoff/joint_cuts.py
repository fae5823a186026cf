"""Straight joints across a part of the field, and what the part falls into along them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from shapely import Point as ShapelyPoint
from shapely import Polygon, box, get_coordinates, union_all
from shapely.geometry.base import BaseGeometry

from service.takeoff.rings import polygons
from service.takeoff.room import Point
from service.takeoff.sections import LEAST_MM, Span, level_spans, merged, turned_point, upright_spans

Line = tuple[Point, Point]

SLIT_MM = 1e-3
"""Half of what parting takes from a part: nothing that shows, enough to part it."""


@dataclass(frozen=True, slots=True)
class Cut:
    """Joints on one line: across x (axis 0) or y (axis 1) at a place, over some spans [mm]."""

    axis: int
    at: float
    spans: tuple[Span, ...]

    @property
    def length(self) -> float:
        return sum(high - low for low, high in self.spans)


def slit(part: Polygon, cuts: Iterable[Cut]) -> list[Polygon]:
    """What a part falls into along its joints."""
    gone = [_blade(cut, span) for cut in cuts for span in cut.spans]
    return list(polygons(part.difference(union_all(gone))))


def joined(cuts: Iterable[Cut]) -> list[Cut]:
    """Joints on one line as one cut, joints that touch as one span."""
    lines: dict[tuple[int, float], list[Cut]] = {}
    for cut in cuts:
        lines.setdefault((cut.axis, round(cut.at, 3)), []).append(cut)
    return [
        Cut(axis, same[0].at, tuple(merged([span for cut in same for span in cut.spans])))
        for (axis, _), same in sorted(lines.items())
    ]


def line_across(part: BaseGeometry, axis: int, at: float) -> Cut:
    """A line over the whole part."""
    return Cut(axis, at, tuple(spans_on(part, axis, at)))


def net(part: Polygon, across: Iterable[float], along: Iterable[float]) -> list[Cut]:
    places = [(0, at) for at in across] + [(1, at) for at in along]
    return [line_across(part, axis, at) for axis, at in places]


def _blade(cut: Cut, span: Span) -> Polygon:
    (low, high), at, more = span, cut.at, 10 * SLIT_MM
    sides = (at - SLIT_MM, low - more, at + SLIT_MM, high + more)
    return box(*sides) if cut.axis == 0 else box(sides[1], sides[0], sides[3], sides[2])


def room_line(cut: Cut, span: Span, angle: float) -> Line:
    start, end = ends(cut, span)
    return turned_point(start, angle), turned_point(end, angle)


def ends(cut: Cut, span: Span) -> Line:
    (low, high), at = span, cut.at
    return ((at, low), (at, high)) if cut.axis == 0 else ((low, at), (high, at))


def spans_on(part: BaseGeometry, axis: int, at: float) -> list[Span]:
    """Where a line has the part on both its sides; along the part's edge there is nothing to part."""
    spans = upright_spans(part, at) if axis == 0 else level_spans(part, at)
    corners = get_coordinates(part)
    near = sorted(corners[abs(corners[:, axis] - at) <= LEAST_MM, 1 - axis].tolist())
    stops = ((low, *(stop for stop in near if low < stop < high), high) for low, high in spans)
    pieces = [piece for each in stops for piece in pairwise(each)]
    return merged([piece for piece in pieces if _inside(part, axis, at, sum(piece) / 2)])


def _inside(part: BaseGeometry, axis: int, at: float, along: float) -> bool:
    middle = ShapelyPoint((at, along) if axis == 0 else (along, at))
    return bool(part.boundary.distance(middle) > LEAST_MM)


def sides(part: BaseGeometry) -> tuple[float, float]:
    left, low, right, high = part.bounds
    return right - left, high - low
