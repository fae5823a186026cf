"""The numbered edges of a room in its caller's own order, and the doorways in its walls."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from service.takeoff.errors import InputError
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Doorway, Outline, Point, Ring


@dataclass(frozen=True)
class Edge:
    """One edge of the outline or of a hole; no wall means open."""

    number: int
    start: Point
    end: Point
    wall: bool

    @property
    def length(self) -> float:
        """[mm]"""
        return math.dist(self.start, self.end)

    def at(self, offset: float) -> Point:
        """The point `offset` mm from the edge's start."""
        share = offset / self.length
        (x0, y0), (x1, y1) = self.start, self.end
        return (x0 + share * (x1 - x0), y0 + share * (y1 - y0))


@dataclass(frozen=True)
class Opening:
    """A doorway's place on its wall, start and end in the wall's direction."""

    doorway: Doorway
    start: Point
    end: Point


def edges_of(shape: Outline) -> tuple[Edge, ...]:
    """All edges, numbered through the outline and then through each hole."""
    sides = [side for ring in (shape.ring, *shape.holes) for side in _sides(ring)]
    walls = set(shape.walls)
    for number in sorted(walls):
        if not 0 <= number < len(sides):
            raise InputError("/walls", f"names wall {number}; the edges are 0 to {len(sides) - 1}")
    return tuple(Edge(i, start, end, i in walls) for i, (start, end) in enumerate(sides))


def _sides(ring: Ring) -> Iterator[tuple[Point, Point]]:
    return zip(ring, ring[1:] + ring[:1], strict=True)


def openings_of(doorways: tuple[Doorway, ...], edges: tuple[Edge, ...]) -> tuple[Opening, ...]:
    """The doorways in their places; InputError where one does not fit into its wall."""
    openings = tuple(_opening(doorway, edges, f"/doorways/{i}") for i, doorway in enumerate(doorways))
    for i, one in enumerate(doorways):
        for j, other in enumerate(doorways[:i]):
            if _overlap(one, other):
                raise InputError(f"/doorways/{i}", f"overlaps doorway {j} in wall {one.wall}")
    return openings


def _opening(doorway: Doorway, edges: tuple[Edge, ...], pointer: str) -> Opening:
    if not 0 <= doorway.wall < len(edges):
        raise InputError(pointer, f"is in wall {doorway.wall}; the edges are 0 to {len(edges) - 1}")
    edge = edges[doorway.wall]
    if not edge.wall:
        raise InputError(pointer, f"is in edge {edge.number}, which is open, not a wall")
    end = doorway.offset + doorway.width
    if not (math.isfinite(end) and doorway.offset >= 0 and doorway.width > TOLERANCE):
        raise InputError(pointer, "needs an offset from 0 and a width over 0")
    if end > edge.length + TOLERANCE:
        raise InputError(pointer, f"ends at {end:g} mm, past its wall of {edge.length:g} mm")
    at_end = edge.end if abs(end - edge.length) <= TOLERANCE else edge.at(end)
    at_start = edge.start if doorway.offset <= TOLERANCE else edge.at(doorway.offset)
    return Opening(doorway, at_start, at_end)


def _overlap(one: Doorway, other: Doorway) -> bool:
    shared = min(one.offset + one.width, other.offset + other.width) - max(one.offset, other.offset)
    return one.wall == other.wall and shared > TOLERANCE
