"""How much work a request may ask for, reckoned before any of it is done.

A unit is about a millisecond of one processor. What takes time is laying out: corners and area, to which
strips of membrane are cut, tiles, and tiles at edges for every start and rotation that is tried. The weights
are measured (tests/takeoff/test_budget.py holds them to the clock).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from shapely import Polygon

from service.takeoff.errors import InputError
from service.takeoff.lattice import Repeat, repeat_of
from service.takeoff.layout import check_tile
from service.takeoff.room import Job, Outline, Ring, Room
from service.takeoff.shared import tiled

MOST = 5000
_A_ROOM = 5.0
_A_CORNER = 1.0
_A_FURTHER_CORNER = 5.0
_PLAIN_CORNERS = 8
_A_SQUARE_METRE = 0.02
_A_TILE = 0.001
_LEVEL_AT_A_CORNER = {"full": 8.0, "short": 4.0}
_LEVEL_AT_AN_EDGE = 0.06
_AT_AN_EDGE = 0.25
_TRIED_AT_A_CORNER = {"full": 7.5, "short": 2.5}
_TRIED_AT_AN_EDGE = {"full": 0.8, "short": 0.3}


def work_of(room: Room) -> float:
    """Units of work that taking off a room asks for; InputError for tile that cannot be laid."""
    if not isinstance(room.shape, Outline):
        return _A_ROOM
    check_tile(room)
    corners = len(_points(room)) + sum(len(zone.outline) for zone in room.zones)
    further = max(0, corners - _PLAIN_CORNERS)
    ground = _A_CORNER * corners + _A_FURTHER_CORNER * further + _A_SQUARE_METRE * _area(room) / 1e6
    return _A_ROOM + ground + _rotations(room) * _layout(room, repeat_of(room))


class Work:
    """What all jobs of a request ask for together; a floor that several share counts once."""

    def __init__(self) -> None:
        self._full: dict[Room, float] = {}
        self._short: dict[Room, float] = {}

    def add(self, job: Job) -> None:
        """InputError (pointer from the job) for tile that cannot be laid, and where it is too much, however
        short the search for the best origins."""
        for number, room in enumerate(job.rooms):
            if (floor := tiled(room)) not in self._full:
                self._add(number, floor)
        work = math.fsum(self._short.values())
        if work > MOST:
            less = "fewer rooms, corners, rotations or variants, larger tile or a given origin ask for less"
            text = f"asks for about {work:,.0f} units of laying out; a request may ask for {MOST:,}: {less}"
            raise InputError("/rooms", text)

    def searched(self, job: Job) -> Job:
        """The job with the search that there is time for: on all floors a short one where a full one of all
        would be too much."""
        if math.fsum(self._full.values()) <= MOST:
            return job
        return replace(job, rooms=tuple(map(_searched_shortly, job.rooms)))

    def _add(self, number: int, floor: Room) -> None:
        try:
            self._full[floor] = work_of(floor)
            self._short[floor] = work_of(_searched_shortly(floor))
        except InputError as fault:
            raise fault.under(f"/rooms/{number}") from fault


def _searched_shortly(room: Room) -> Room:
    return replace(room, search="short")


def _layout(room: Room, repeat: Repeat) -> float:
    """Of one rotation: tiles, and at edges the tiles of all starts that are tried."""
    tiles = _A_TILE * _area(room) * repeat.tiles_per_mm2
    corners, at_edges = len(_points(room)), _edges(room) * math.sqrt(repeat.tiles_per_mm2)
    if room.origin != "best":
        return tiles + _AT_AN_EDGE * at_edges
    if _level(room):
        return tiles + _LEVEL_AT_A_CORNER[room.search] * corners + _LEVEL_AT_AN_EDGE * at_edges
    return tiles + _TRIED_AT_A_CORNER[room.search] * corners + _TRIED_AT_AN_EDGE[room.search] * at_edges


def _rotations(room: Room) -> int:
    """Each is laid out by itself."""
    return len({room.pattern.rotation, *room.pattern.try_rotations}) if room.origin == "best" else 1


def _level(room: Room) -> bool:
    """Whether tiles and edges are square to each other, where all starts are counted by products."""
    courses = room.pattern.kind in {"stack_bond", "running_bond"}
    turns = (room.pattern.rotation, *room.pattern.try_rotations)
    return courses and all(turn % 90 == 0 for turn in turns) and all(map(_right_angled, _rings(room)))


def _right_angled(ring: Ring) -> bool:
    return all(x == x2 or y == y2 for (x, y), (x2, y2) in _sides(ring))


def _rings(room: Room) -> list[Ring]:
    shape = room.shape
    told = (shape.ring, *shape.holes) if isinstance(shape, Outline) else ()
    return [*told, *(thing.outline for thing in room.obstructions if thing.outline)]


def _points(room: Room) -> list[tuple[float, float]]:
    return [point for ring in _rings(room) for point in ring]


def _edges(room: Room) -> float:
    """All edges together [mm]."""
    return math.fsum(math.dist(*side) for ring in _rings(room) for side in _sides(ring))


def _sides(ring: Ring) -> Iterable[tuple[tuple[float, float], tuple[float, float]]]:
    return zip(ring, (*ring[1:], *ring[:1]), strict=True)


def _area(room: Room) -> float:
    """Within the outer ring [mm2]."""
    return float(Polygon(_rings(room)[0]).area)
