"""What the eye meets: the entrance, and the main sight line into the room."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely import LineString
from shapely.ops import substring

from service.takeoff.errors import InputError
from service.takeoff.geometry import FloorShape
from service.takeoff.lattice import Turn
from service.takeoff.laying import LaidTiles
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, Room

_INTO = 1.0  # how far a look reaches past a joint into the tile beside [mm]


@dataclass(frozen=True, slots=True)
class Threshold:
    """Where the entrance's line lies across one of the tile's axes (0 or 1) [mm]."""

    axis: int
    place: float


@dataclass(frozen=True)
class View:
    """Strips along the tile's axes, a joint wide to both sides: just inside the entrance, and from the focus
    straight through the room. None where the room tells of none."""

    entrance: shapely.Geometry | None = None
    sight: shapely.Geometry | None = None
    threshold: Threshold | None = None

    def whole_at_entrance(self, laid: Sequence[LaidTiles]) -> bool | None:
        """Whether the first tile inside the middle of the entrance is whole."""
        return None if self.entrance is None else _count_cut(self.entrance, laid) == 0

    def cut_on_sight_line(self, laid: Sequence[LaidTiles]) -> int | None:
        """Pieces along the sight line that are not whole."""
        return None if self.sight is None else _count_cut(self.sight, laid)


def _count_cut(strip: shapely.Geometry, laid: Sequence[LaidTiles]) -> int:
    return sum(int(shapely.intersects(strip, each.outlines).sum()) for each in laid)


def view_of(room: Room, shape: FloorShape, turn: Turn) -> View:
    """The entrance is the doorway in focus or else the first; the sight line runs from the focus, or from
    the entrance, square to its wall. InputError for a focus that does not exist."""
    number = room.focus.number if room.focus and room.focus.kind == "doorway" else 0
    if room.focus and not 0 <= room.focus.number < len(_places(room, shape)):
        raise InputError("/focus", f"names {room.focus.kind} {room.focus.number}, which does not exist")
    doors = [(opening.start, opening.end) for opening in shape.openings]
    entrance = _line(doors[number], shape) if doors else None
    sight = _line(_places(room, shape)[room.focus.number], shape) if room.focus else entrance
    look = room.joint + _INTO
    inside = entrance and substring(entrance, 0.0, look + room.min_piece)
    return View(
        entrance=inside and turn.to_tile(_strip(inside, look)),
        sight=sight and turn.to_tile(_strip(sight, look)),
        threshold=_threshold(turn.to_tile(LineString(doors[number]))) if doors else None,
    )


def _threshold(line: LineString) -> Threshold | None:
    x0, y0, x1, y1 = line.bounds
    axis = next((axis for axis, run in enumerate((x1 - x0, y1 - y0)) if run <= TOLERANCE), None)
    return None if axis is None else Threshold(axis, (x0, y0)[axis])


def _places(room: Room, shape: FloorShape) -> list[tuple[Point, Point]]:
    """What a focus may name."""
    if room.focus and room.focus.kind == "wall":
        return [(edge.start, edge.end) for edge in shape.edges]
    return [(opening.start, opening.end) for opening in shape.openings]


def _strip(line: shapely.Geometry, wide: float) -> shapely.Geometry:
    strip = shapely.buffer(line, wide, cap_style="flat")
    shapely.prepare(strip)
    return strip


def _line(side: tuple[Point, Point], shape: FloorShape) -> LineString | None:
    """From the middle of a side of the room straight over the field, until the field ends."""
    (xa, ya), (xb, yb) = side
    middle, length = ((xa + xb) / 2, (ya + yb) / 2), math.dist(*side)
    normal = (-(yb - ya) / length, (xb - xa) / length)
    x0, y0, x1, y1 = shape.polygon.bounds
    far = math.hypot(x1 - x0, y1 - y0)
    inward = 1.0 if shape.polygon.covers(shapely.Point(_along(middle, normal, _INTO))) else -1.0
    line = LineString([middle, _along(middle, normal, inward * far)])
    parts = shapely.get_parts(line.intersection(shape.field)).tolist()
    lines = [part for part in parts if isinstance(part, LineString)]
    return min(lines, key=lambda part: part.distance(shapely.Point(middle)), default=None)


def _along(point: Point, direction: Point, by: float) -> Point:
    return (point[0] + by * direction[0], point[1] + by * direction[1])
