"""How tile repeats: one unit cell a pattern, and the turn between the room and the tile's own axes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeVar

import shapely
from shapely import affinity

from service.takeoff.errors import InputError
from service.takeoff.room import PatternKind, Point, Ring, Room, Tile

_Shape = TypeVar("_Shape", bound=shapely.Geometry)


@dataclass(frozen=True)
class Repeat:
    """The unit cell [mm]: cell (row, column) lies at column * (step_x, 0) + row * (shift, step_y) from the
    lattice's origin, which is the cell's low corner; `tiles` are the convex outlines of the tiles in the
    cell, anticlockwise. Every lattice has a basis of this form once it is turned so that one of its
    vectors lies along x."""

    step_x: float
    shift: float
    step_y: float
    tiles: tuple[Ring, ...]

    @property
    def tiles_per_mm2(self) -> float:
        return len(self.tiles) / (self.step_x * self.step_y)


def repeat_of(room: Room) -> Repeat:
    """The unit cell of the room's pattern; InputError for one that cannot be laid."""
    try:
        return _PATTERNS[room.pattern.kind](room)
    except KeyError:
        raise InputError("/pattern/kind", f"{room.pattern.kind} is not laid out yet") from None


def _stack_bond(room: Room) -> Repeat:
    return _courses(room, 0.0)


def _running_bond(room: Room) -> Repeat:
    return _courses(room, float(room.pattern.offset))


def _courses(room: Room, offset: float) -> Repeat:
    length, width = work_size(room.tile, room.joint)
    step_x, step_y = length + room.joint, width + room.joint
    return Repeat(step_x, offset * step_x, step_y, (rectangle(0, 0, length, width),))


_PATTERNS: Mapping[PatternKind, Callable[[Room], Repeat]] = {
    "stack_bond": _stack_bond,
    "running_bond": _running_bond,
}


def rectangle(x: float, y: float, length: float, width: float) -> Ring:
    """A rectangle from its low corner, anticlockwise [mm]."""
    return ((x, y), (x + length, y), (x + length, y + width), (x, y + width))


def work_size(tile: Tile, joint: float) -> Point:
    """Length and width of the tile itself; a nominal size has the joint in it (ISO 13006: work size)."""
    less = joint if tile.size_is == "nominal" else 0.0
    return (tile.length - less, tile.width - less)


@dataclass(frozen=True)
class Turn:
    """The turn between room coordinates and the tile's axes, about the room's zero point."""

    degrees: float

    @property
    def _unit(self) -> Point:
        """Cosine and sine, exact at quarter turns so that square rooms stay square."""
        quarters, rest = divmod(self.degrees % 360, 90)
        if rest == 0:
            return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
        return (math.cos(math.radians(self.degrees)), math.sin(math.radians(self.degrees)))

    def to_tile(self, shape: _Shape) -> _Shape:
        c, s = self._unit
        return affinity.affine_transform(shape, [c, s, -s, c, 0, 0])

    def to_room(self, shape: _Shape) -> _Shape:
        c, s = self._unit
        return affinity.affine_transform(shape, [c, -s, s, c, 0, 0])

    def point_to_tile(self, point: Point) -> Point:
        c, s = self._unit
        return (c * point[0] + s * point[1], -s * point[0] + c * point[1])

    def point_to_room(self, point: Point) -> Point:
        c, s = self._unit
        return (c * point[0] - s * point[1], s * point[0] + c * point[1])
