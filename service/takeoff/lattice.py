"""How tile repeats: one unit cell a pattern, and the turn between the room and the tile's own axes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeVar

import shapely
from shapely import Polygon, affinity

from service.takeoff.errors import InputError
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import PatternKind, Point, Ring, Room, Tile

_Shape = TypeVar("_Shape", bound=shapely.Geometry)


@dataclass(frozen=True)
class Repeat:
    """The unit cell [mm]: cell (row, column) lies at column * (step_x, rise) + row * (shift, step_y) from
    the lattice's origin, which is the cell's low corner; `tiles` are the convex outlines of the tiles in
    the cell, anticlockwise, along whose sides the axes lie."""

    step_x: float
    shift: float
    step_y: float
    tiles: tuple[Ring, ...]
    rise: float = 0.0

    @property
    def area(self) -> float:
        """Of a cell [mm2]."""
        return self.step_x * self.step_y - self.rise * self.shift

    @property
    def tiles_per_mm2(self) -> float:
        return len(self.tiles) / self.area

    @property
    def tiled_share(self) -> float:
        """The share of a floor that is tile, the rest is joint."""
        return math.fsum(Polygon(tile).area for tile in self.tiles) / self.area


def repeat_of(room: Room) -> Repeat:
    """The unit cell of the room's pattern; InputError where the tile cannot make it."""
    return _PATTERNS[room.pattern.kind](room)


def _stack_bond(room: Room) -> Repeat:
    return _courses(room, 0.0)


def _running_bond(room: Room) -> Repeat:
    return _courses(room, float(room.pattern.offset))


def _courses(room: Room, offset: float) -> Repeat:
    length, width = work_size(room.tile, room.joint)
    step_x, step_y = length + room.joint, width + room.joint
    return Repeat(step_x, offset * step_x, step_y, (rectangle(0, 0, length, width),))


def _herringbone(room: Room) -> Repeat:
    """A tile across and one upright at its end, stepping up by a tile's width; joints are even for any
    length and width. At 45 degrees to the room it is the usual look."""
    length, width = work_size(room.tile, room.joint)
    if length <= width:
        raise InputError("/pattern/kind", "herringbone needs a tile longer than wide")
    long, short = length + room.joint, width + room.joint
    tiles = (rectangle(0, 0, length, width), rectangle(long, width - length, width, length))
    return Repeat(short, -long, long, tiles, rise=short)


def _basket_weave(room: Room) -> Repeat:
    """Blocks of tiles side by side, across and upright in turn, as a chessboard."""
    length, width = work_size(room.tile, room.joint)
    step = width + room.joint
    count = round((length + room.joint) / step)
    block = count * step - room.joint
    if count < 2 or not count * width - TOLERANCE <= length <= block + TOLERANCE:
        near = max(count, 2)
        told = f"from {near * width:g} to {near * step - room.joint:g} mm here"
        raise InputError("/pattern/kind", f"basket weave needs a tile as long as several are wide, {told}")
    across = [rectangle(0, i * step, length, width) for i in range(count)]
    upright = [rectangle(block + room.joint + i * step, 0, width, length) for i in range(count)]
    pitch = block + room.joint
    return Repeat(2 * pitch, pitch, pitch, (*across, *upright))


def _hexagon(room: Room) -> Repeat:
    """Regular hexagons, `length` across their flats, the flats left and right."""
    flats = work_size(room.tile, room.joint)[0]
    pitch, side = flats + room.joint, flats / math.sqrt(3)
    half = flats / 2
    corners = (
        (half, 0),
        (flats, side / 2),
        (flats, 1.5 * side),
        (half, 2 * side),
        (0, 1.5 * side),
        (0, side / 2),
    )
    return Repeat(pitch, pitch / 2, pitch * math.sqrt(3) / 2, (corners,))


def _modular(room: Room) -> Repeat:
    """Two sizes of square tile, a small one at a corner of each large one (the tiling of Pythagoras)."""
    sizes = sorted((work_size(tile, room.joint) for tile in room.pattern.tiles), reverse=True)
    if len(sizes) != 2 or any(abs(length - width) > TOLERANCE for length, width in sizes):
        raise InputError("/pattern/tiles", "a modular pattern takes two square tiles")
    (large, _), (small, _) = sizes
    if large - small <= TOLERANCE:
        raise InputError("/pattern/tiles", "a modular pattern takes two sizes; these are equal")
    step, rise = large + room.joint, small + room.joint
    return Repeat(step, -rise, step, (rectangle(0, 0, large, large), rectangle(step, 0, small, small)), rise)


_PATTERNS: Mapping[PatternKind, Callable[[Room], Repeat]] = {
    "stack_bond": _stack_bond,
    "running_bond": _running_bond,
    "herringbone": _herringbone,
    "basket_weave": _basket_weave,
    "hexagon": _hexagon,
    "modular": _modular,
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

    @property
    def axes(self) -> tuple[Point, Point]:
        """The tile's axes in the room."""
        c, s = self._unit
        return ((c, s), (-s, c))

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


UPRIGHT = Turn(0.0)
