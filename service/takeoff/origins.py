"""Where the first tile goes: the origins that a caller may name."""

from __future__ import annotations

from shapely import MultiPolygon, Polygon

from service.takeoff.geometry import FloorShape
from service.takeoff.lattice import Repeat
from service.takeoff.laying import Ground, largest_part
from service.takeoff.room import Point, Room


def origin_of(room: Room, shape: FloorShape, ground: Ground, repeat: Repeat) -> Point:
    """The low corner of the unit cell in the room [mm], for an origin that needs no search."""
    if not isinstance(room.origin, str):
        return room.origin
    if room.origin == "corner":
        return corner_of(room, shape)
    x, y = ground.turn.point_to_tile(_middle(shape.field))
    across, up = _tile_middle(repeat) if room.origin == "centre_tile" else (-room.joint / 2, -room.joint / 2)
    return ground.turn.point_to_room((x - across, y - up))


def corner_of(room: Room, shape: FloorShape) -> Point:
    """The perimeter joint in from the low corner of the shape's bounding box."""
    x, y, _, _ = shape.polygon.bounds
    return (x + room.perimeter_joint, y + room.perimeter_joint)


def far_corner_of(room: Room, shape: FloorShape) -> Point:
    """The perimeter joint in from the high corner of the shape's bounding box."""
    _, _, x, y = shape.polygon.bounds
    return (x - room.perimeter_joint, y - room.perimeter_joint)


def _middle(field: Polygon | MultiPolygon) -> Point:
    x0, y0, x1, y1 = largest_part(field).bounds
    return ((x0 + x1) / 2, (y0 + y1) / 2)


def _tile_middle(repeat: Repeat) -> Point:
    x, y = zip(*repeat.tiles[0], strict=True)
    return ((min(x) + max(x)) / 2, (min(y) + max(y)) / 2)
