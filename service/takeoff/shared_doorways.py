"""Doorways that two rooms of a job tell of, where a floor runs on through them: each is counted once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from service.takeoff.continued import source_of
from service.takeoff.edges import Opening, edges_of, openings_of
from service.takeoff.errors import InputError
from service.takeoff.room import Outline, Point, Room
from service.trade.values import TradeValues

PARALLEL = 1e-3  # the sine under which two doorways run alike


def marked(rooms: Sequence[Room], values: TradeValues) -> tuple[Room, ...]:
    """The rooms, each knowing which of its doorways belong to the room that its floor runs on from.

    Two doorways are one where they face each other across a wall no thicker than walls are and overlap.
    """
    most = values.number("profiles.wall_thickness")
    return tuple(_marked(number, rooms, most) for number in range(len(rooms)))


def own(room: Room, openings: Sequence[Opening]) -> list[tuple[int, Opening]]:
    """The numbered doorways that are counted with this room."""
    return [(n, opening) for n, opening in enumerate(openings) if n not in room.shared_doorways]


def _marked(number: int, rooms: Sequence[Room], most: float) -> Room:
    room, source = rooms[number], source_of(number, rooms)
    if source is None or room.continues_from is None:
        return room
    theirs = [_moved(opening, room.continues_from.at) for opening in _openings(rooms[source])]
    shared = (n for n, mine in enumerate(_openings(room)) if any(_same(mine, o, most) for o in theirs))
    return replace(room, shared_doorways=tuple(shared))


def _openings(room: Room) -> tuple[Opening, ...]:
    """None where the room is faulty, which is told where it is taken off."""
    if not isinstance(room.shape, Outline):
        return ()
    try:
        return openings_of(room.doorways, edges_of(room.shape))
    except InputError:
        return ()


def _moved(opening: Opening, by: Point) -> Opening:
    def there(point: Point) -> Point:
        return (point[0] + by[0], point[1] + by[1])

    return Opening(opening.doorway, there(opening.start), there(opening.end))


def _same(one: Opening, other: Opening, most: float) -> bool:
    width = math.dist(one.start, one.end)
    along = ((one.end[0] - one.start[0]) / width, (one.end[1] - one.start[1]) / width)
    (s0, d0), (s1, d1) = (_from(one.start, along, point) for point in (other.start, other.end))
    overlap = min(max(s0, s1), width) - max(min(s0, s1), 0.0)
    parallel = abs(d1 - d0) <= PARALLEL * math.dist(other.start, other.end)
    return parallel and abs(d0) <= most and overlap > min(width, abs(s1 - s0)) / 2


def _from(origin: Point, along: Point, point: Point) -> Point:
    """How far along and how far beside a point lies."""
    x, y = point[0] - origin[0], point[1] - origin[1]
    return (x * along[0] + y * along[1], y * along[0] - x * along[1])
