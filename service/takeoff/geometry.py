"""From what a caller says about a room to its checked shape: floor, field and measures."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely import MultiPolygon, Polygon

from service.takeoff.answer import Measures
from service.takeoff.boundary import (
    Part,
    PartKind,
    PartRing,
    boundary,
    corners,
    edge_carriers,
    restrained_length,
    ring_carriers,
)
from service.takeoff.edges import Edge, Opening, edges_of, openings_of
from service.takeoff.errors import InputError
from service.takeoff.field import field_of, floor_of
from service.takeoff.obstructions import ground_shapes
from service.takeoff.rings import TOLERANCE, polygons, ring_polygon
from service.takeoff.room import AREA_KINDS, RESTRAINING_KINDS, BareArea, Outline, Point, Room, Zone

__all__ = ["Edge", "FloorShape", "Opening", "floor_shape"]

_GRID = 1e-6  # the floor's own vertices are rounded to it where an obstruction abuts a wall [mm]


@dataclass(frozen=True)
class FloorShape:
    """A room's shape [mm]: `polygon` is the outline less its holes, `floor` that less columns, fixtures
    and stairs, `field` the floor less the perimeter joint. `boundary` is the floor's edge, per polygon
    its rings of parts. Not `laid_out` where only area and perimeter were known."""

    polygon: Polygon
    floor: Polygon | MultiPolygon
    field: Polygon | MultiPolygon
    edges: tuple[Edge, ...]
    openings: tuple[Opening, ...]
    open_edges: tuple[Edge, ...]
    measures: Measures
    laid_out: bool
    boundary: tuple[tuple[PartRing, ...], ...] = ()
    obstructions: tuple[
        Polygon | shapely.Point, ...
    ] = ()  # in the room's order, a point where no size is known


def floor_shape(room: Room) -> FloorShape:
    """The shape of `room`; InputError (pointer relative to the room) for one that no floor can have."""
    _not_negative(room.perimeter_joint, "/perimeter_joint")
    outline = _outline(room.shape)
    polygon = _room_polygon(outline)
    edges = edges_of(outline)
    openings = openings_of(room.doorways, edges)
    obstructions = ground_shapes(room.obstructions, polygon)
    _check_zones(room.zones, polygon)
    floor = _floor(room, polygon, obstructions)
    parts = boundary(floor, list(_carriers(room, edges, openings, obstructions)))
    field = field_of(parts, room.perimeter_joint)
    if field.is_empty:
        raise InputError("/perimeter_joint", f"of {room.perimeter_joint:g} mm leaves no field to tile")
    return FloorShape(
        polygon=polygon,
        floor=_one_or_many([floor_of(rings) for rings in parts]),
        field=field,
        edges=edges,
        openings=openings,
        open_edges=tuple(edge for edge in edges if not edge.wall),
        measures=_measures(polygon, parts),
        laid_out=isinstance(room.shape, Outline),
        boundary=parts,
        obstructions=obstructions,
    )


def _not_negative(value: float, pointer: str) -> None:
    if not (math.isfinite(value) and value >= 0):
        raise InputError(pointer, "must be a length of 0 or more")


def _outline(shape: Outline | BareArea) -> Outline:
    return shape if isinstance(shape, Outline) else _equivalent_rectangle(shape)


def _equivalent_rectangle(bare: BareArea) -> Outline:
    """The rectangle of this area and perimeter, its long side along x, all walls.

    a + b = P / 2 and a b = A have real sides only where P^2 >= 16 A: a square encloses the most.
    """
    if not (math.isfinite(bare.area_m2) and bare.area_m2 > 0):
        raise InputError("/area_m2", "must be an area over 0")
    if not (math.isfinite(bare.perimeter) and bare.perimeter > 0):
        raise InputError("/perimeter", "must be a length over 0")
    area, quarter = bare.area_m2 * 1e6, bare.perimeter / 4
    spread = quarter * quarter - area
    if spread < -TOLERANCE * quarter:
        raise InputError(
            "/perimeter", f"of {bare.perimeter:g} mm cannot enclose {bare.area_m2:g} m2 in a rectangle"
        )
    long = quarter + math.sqrt(max(0.0, spread))
    short = area / long
    return Outline(((0.0, 0.0), (long, 0.0), (long, short), (0.0, short)), walls=(0, 1, 2, 3))


def _room_polygon(outline: Outline) -> Polygon:
    outer = ring_polygon(outline.ring, "/outline")
    holes = [ring_polygon(ring, f"/holes/{i}") for i, ring in enumerate(outline.holes)]
    for i, hole in enumerate(holes):
        if not outer.contains_properly(hole):
            raise InputError(f"/holes/{i}", "does not lie inside the outline")
        if any(hole.intersects(other) for other in holes[:i]):
            raise InputError(f"/holes/{i}", "touches another hole")
    return Polygon(outline.ring, outline.holes)


def _check_zones(zones: tuple[Zone, ...], polygon: Polygon) -> None:
    reach = Polygon(polygon.exterior).buffer(TOLERANCE, join_style="mitre")
    for i, zone in enumerate(zones):
        if not reach.covers(ring_polygon(zone.outline, f"/zones/{i}/outline")):
            raise InputError(f"/zones/{i}", "does not lie inside the room")


def _floor(room: Room, polygon: Polygon, shapes: Sequence[Polygon | shapely.Point]) -> tuple[Polygon, ...]:
    taken = [
        _against_walls(shape, polygon)
        for obstruction, shape in zip(room.obstructions, shapes, strict=True)
        if obstruction.kind in AREA_KINDS
    ]
    if not taken:
        return (polygon,)
    left = polygons(shapely.difference(polygon, shapely.union_all(taken), grid_size=_GRID))
    if not left:
        raise InputError("/obstructions", "leave no floor")
    return left


def _against_walls(shape: Polygon | shapely.Point, polygon: Polygon) -> Polygon | shapely.Point:
    """The obstruction with points that lie on a wall but for rounding put onto it."""

    def onto(x: float, y: float) -> Point:
        point = shapely.Point(x, y)
        for ring in (polygon.exterior, *polygon.interiors):
            if ring.distance(point) <= TOLERANCE:
                near = ring.interpolate(ring.project(point))
                return (near.x, near.y)
        return (x, y)

    return Polygon([onto(x, y) for x, y in shapely.get_coordinates(shape)])


def _carriers(
    room: Room, edges: Sequence[Edge], openings: Sequence[Opening], shapes: Sequence[Polygon | shapely.Point]
) -> Iterator[Part]:
    """Everything that can stand at the floor's edge."""
    yield from edge_carriers(edges, openings)
    for i, (obstruction, shape) in enumerate(zip(room.obstructions, shapes, strict=True)):
        if obstruction.kind in AREA_KINDS and isinstance(shape, Polygon):
            kind: PartKind = "obstruction" if obstruction.kind in RESTRAINING_KINDS else "stair"
            yield from ring_carriers(shape, kind, i, obstruction.centre is not None)


def _measures(polygon: Polygon, parts: Sequence[Sequence[PartRing]]) -> Measures:
    rings = [ring for polygon_rings in parts for ring in polygon_rings]
    inside, outside = corners(rings)
    return Measures(
        floor_area_m2=math.fsum(floor_of(polygon_rings).area for polygon_rings in parts) / 1e6,
        perimeter_m=polygon.length / 1e3,
        wall_length_m=restrained_length(rings) / 1e3,
        inside_corners=inside,
        outside_corners=outside,
    )


def _one_or_many(parts: Sequence[Polygon]) -> Polygon | MultiPolygon:
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)
