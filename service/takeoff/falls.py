"""A screed laid to falls: its volume from the slope, the drain and the shape of the room.

Point falls: the floor is level along the walls, and along the ridge between two drains, and runs in planes
to the drain. It stands there as high as the slope wants over the longest way to a drain, around the corners
of walls where a drain does not see so far; each plane is a
triangle with its point at the drain, so the mean depth is two thirds of that height. Linear falls: the floor
rises evenly on both sides of a line through the drain, along the wall nearest to it; without a drain, along
the longest open edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import dist

from shapely import LinearRing, LineString, MultiPolygon, Polygon
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from service.sentence import say
from service.takeoff.answer import Finding, Step, Wait, Work
from service.takeoff.geometry import FloorShape
from service.takeoff.parts import material
from service.takeoff.rings import TOLERANCE, polygons
from service.takeoff.room import Obstruction, Point, Room
from service.takeoff.waterproofing_rules import fall_mm
from service.takeoff.ways import longest_way_mm
from service.trade.values import TradeValues

Line = tuple[Point, Point]


def screeded(room: Room, shape: FloorShape, values: TradeValues) -> Step:
    """Fall screed [kg], its laying [m2], wait and finding of one room."""
    if room.falls == "none":
        return Step()
    area, depth = shape.measures.floor_area_m2, mean_depth_mm(room, shape, values)
    slope = values.number("waterproofing.fall")
    text = f"falls of {slope:.1%}, mean depth {depth:.1f} mm"
    part = (text, area * depth * values.number("falls.density"))
    loss = ("loss", values.number("falls.loss"))
    return Step(
        materials=material("fall_screed", "kg", [part], loss, room=room.name),
        work=(Work("fall_screed", "area", area, "m2"),),
        findings=(_finding(room, shape, slope, values),),
        waits=(Wait("level", values.number("falls.wait"), values.citation("falls.wait")),),
    )


def mean_depth_mm(room: Room, shape: FloorShape, values: TradeValues) -> float:
    """Mean depth of the screed [mm], its least depth at the drain included."""
    way = point_way_mm(room, shape) if room.falls == "point" else linear_way_mm(room, shape)
    return values.number("falls.least_depth") + fall_mm(way, values)


@dataclass(frozen=True, slots=True)
class Catchment:
    """The ground that falls to one drain: all that lies nearest to it [mm in the room]."""

    drain: Point
    ground: Polygon | MultiPolygon

    @property
    def corners(self) -> tuple[Point, ...]:
        """Of its outline, where the edge turns."""
        outlines = (LinearRing(part.exterior).simplify(TOLERANCE) for part in polygons(self.ground))
        return tuple((x, y) for outline in outlines for x, y, *_ in outline.coords[:-1])


def catchments(room: Room, shape: FloorShape) -> tuple[Catchment, ...]:
    """One for each drain; where none is given, one about a point inside the room."""
    drains = drain_points(room) or [_point(shape.polygon.representative_point())]
    return tuple(Catchment(drain, _nearest(drain, drains, shape)) for drain in dict.fromkeys(drains))


def _nearest(drain: Point, drains: Sequence[Point], shape: FloorShape) -> Polygon | MultiPolygon:
    """The part of the room that lies nearer to this drain than to the others."""
    ground: BaseGeometry = shape.polygon
    for other in drains:
        if other != drain:
            middle = ((drain[0] + other[0]) / 2, (drain[1] + other[1]) / 2)
            across = (middle[0] + drain[1] - other[1], middle[1] + other[0] - drain[0])
            ground = sides_of_line(ground, _through(middle, middle, across, shape))[0]
    parts = polygons(ground)
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def point_way_mm(room: Room, shape: FloorShape) -> float:
    """Mean way to the drain over planes level at walls and ridges [mm]: two thirds of the longest."""
    return 2 / 3 * furthest_way_mm(room, shape)


def furthest_way_mm(room: Room, shape: FloorShape) -> float:
    """The longest way over the floor to the nearest drain [mm]."""
    parts = catchments(room, shape)
    corners = tuple(corner for part in parts for corner in part.corners)
    return longest_way_mm(corners, tuple(part.drain for part in parts), shape.polygon)


def linear_way_mm(room: Room, shape: FloorShape) -> float:
    """Mean way to the drain line over the floor [mm], on both sides of it."""
    line = drain_line(room, shape)
    parts = (part for part in sides_of_line(shape.polygon, line) if part.area)
    return sum(part.area * LineString(line).distance(part.centroid) for part in parts) / shape.polygon.area


def drain_points(room: Room) -> list[Point]:
    return [_middle(o) for o in room.obstructions if o.kind == "drain"]


def drain_line(room: Room, shape: FloorShape) -> Line:
    """The low line, drawn well past the room on both ends."""
    drains, edges = drain_points(room), shape.edges
    if drains:
        near = min(edges, key=lambda e: LineString([e.start, e.end]).distance(ShapelyPoint(drains[0])))
        return _through(drains[0], near.start, near.end, shape)
    low = max(shape.open_edges or edges, key=lambda e: e.length)
    return _through(low.start, low.start, low.end, shape)


def _through(point: Point, start: Point, end: Point, shape: FloorShape) -> Line:
    left, low, right, high = shape.polygon.bounds
    reach = 3 * dist((left, low), (right, high)) / dist(start, end)
    dx, dy = (end[0] - start[0]) * reach, (end[1] - start[1]) * reach
    return (point[0] - dx, point[1] - dy), (point[0] + dx, point[1] + dy)


def sides_of_line(floor: BaseGeometry, line: Line) -> tuple[BaseGeometry, BaseGeometry]:
    """What of the floor lies left and right of a line."""
    start, end = line
    return _left(floor, start, end), _left(floor, end, start)


def _left(floor: BaseGeometry, start: Point, end: Point) -> BaseGeometry:
    dx, dy = end[0] - start[0], end[1] - start[1]
    beyond = ((end[0] - dy, end[1] + dx), (start[0] - dy, start[1] + dx))
    return floor.intersection(Polygon([start, end, *beyond]))


def _middle(drain: Obstruction) -> Point:
    if drain.centre is not None:
        return drain.centre
    return _point(Polygon(drain.outline or ()).centroid)


def _point(point: ShapelyPoint) -> Point:
    return point.x, point.y


def _finding(room: Room, shape: FloorShape, slope: float, values: TradeValues) -> Finding:
    source = values.citation("waterproofing.fall")
    free_edge = room.falls == "linear" and shape.open_edges
    if drain_points(room) or free_edge:
        goal = "the drain" if drain_points(room) else "the longest open edge"
        said = f"A screed falling {slope:.1%} to {goal} is priced."
        return Finding("fall_screed", "pass", said, source)
    wall, middle = say("along the longest wall"), say("in the middle of the room")
    said = say(
        "A screed falling {slope:.1%} is priced, but no drain is given: it is taken to lie {place}.",
        slope=slope,
        place=middle if room.falls == "point" else wall,
    )
    return Finding("fall_screed", "condition", said, source)
