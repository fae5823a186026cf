"""The edge of the floor, part by part: what stands there, where walls meet, how long the restraint is."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
import numpy.typing as npt
from shapely import LinearRing, Polygon
from shapely.geometry.polygon import orient

from service.takeoff.edges import Edge, Opening
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point

PartKind = Literal["wall", "obstruction", "doorway", "open", "stair"]
Floats = npt.NDArray[np.float64]

STRAIGHT_ON = math.radians(1.0)
"""Two walls that turn by less run straight on: no corner between them."""


@dataclass(frozen=True, slots=True)
class Part:
    """A straight piece of the floor's edge, the floor on its left.

    `source` is the number of the edge or of the obstruction that stands there.
    """

    start: Point
    end: Point
    kind: PartKind
    source: int
    round: bool = False

    @property
    def restrained(self) -> bool:
        """Whether tile needs a perimeter joint here."""
        return self.kind in ("wall", "obstruction")

    @property
    def length(self) -> float:
        """[mm]"""
        return math.dist(self.start, self.end)

    @property
    def direction(self) -> float:
        """[rad]"""
        return math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])


PartRing = tuple[Part, ...]


def turn(before: Part, after: Part) -> float:
    """The change of direction between two parts [rad], positive to the left."""
    return math.remainder(after.direction - before.direction, 2 * math.pi)


def joined(ring: PartRing) -> Iterator[tuple[Part, Part]]:
    """Each part with the one after it, around the ring."""
    return zip(ring, ring[1:] + ring[:1], strict=True)


def restrained_length(rings: Sequence[PartRing]) -> float:
    """Length of walls and restraining obstructions, doorways left out [mm]."""
    return math.fsum(part.length for ring in rings for part in ring if part.restrained)


def corners(rings: Sequence[PartRing]) -> tuple[int, int]:
    """Inside and outside corners, seen from the floor, where two restrained parts meet."""
    inside, outside = corner_points(rings)
    return len(inside), len(outside)


def corner_points(rings: Sequence[PartRing]) -> tuple[list[Point], list[Point]]:
    """Where the inside and the outside corners are."""
    turns = [
        (turn(before, after), after.start)
        for ring in rings
        for before, after in joined(ring)
        if before.restrained and after.restrained and not _facets(before, after)
    ]
    return [at for t, at in turns if t > STRAIGHT_ON], [at for t, at in turns if t < -STRAIGHT_ON]


def _facets(before: Part, after: Part) -> bool:
    return before.round and after.round and before.source == after.source


def edge_carriers(edges: Sequence[Edge], openings: Sequence[Opening]) -> Iterator[Part]:
    """The room's edges cut at the door jambs."""
    for edge in edges:
        if not edge.wall:
            yield Part(edge.start, edge.end, "open", edge.number)
            continue
        doors = sorted((o for o in openings if o.doorway.wall == edge.number), key=lambda o: o.doorway.offset)
        at = edge.start
        for door in doors:
            yield Part(at, door.start, "wall", edge.number)
            yield Part(door.start, door.end, "doorway", edge.number)
            at = door.end
        yield Part(at, edge.end, "wall", edge.number)


def ring_carriers(polygon: Polygon, kind: PartKind, source: int, is_round: bool) -> Iterator[Part]:
    """The sides of an obstruction."""
    points = [(float(x), float(y)) for x, y in polygon.exterior.coords]
    for start, end in pairwise(points):
        yield Part(start, end, kind, source, is_round)


def boundary(floor: Sequence[Polygon], carriers: Sequence[Part]) -> tuple[tuple[PartRing, ...], ...]:
    """Per polygon of the floor its rings as parts (outer ring first), each named after what carries it."""
    held = [part for part in carriers if part.length > TOLERANCE]
    starts = np.array([part.start for part in held])
    ends = np.array([part.end for part in held])

    def parts_of(ring: LinearRing) -> PartRing:
        return tuple(_named(ring, held, starts, ends))

    return tuple(
        tuple(parts_of(ring) for ring in (turned.exterior, *turned.interiors))
        for turned in (orient(polygon) for polygon in floor)
    )


def _named(ring: LinearRing, held: Sequence[Part], starts: Floats, ends: Floats) -> Iterator[Part]:
    points = np.asarray(ring.coords)[:, :2]
    for a, b in pairwise(points):
        stops = [a, *_breaks(a, b, starts), b]
        for start, end in pairwise(stops):
            carrier = held[int(np.argmin(_distances((start + end) / 2, starts, ends)))]
            yield Part(_point(start), _point(end), carrier.kind, carrier.source, carrier.round)


def _point(xy: Floats) -> Point:
    return (float(xy[0]), float(xy[1]))


def _breaks(a: Floats, b: Floats, at: Floats) -> Floats:
    """Those of the points `at` that lie on the inside of the segment a-b, in its order."""
    length = float(np.hypot(*(b - a)))
    along = (b - a) / length
    s = (at - a) @ along
    off = np.abs((at - a) @ np.array([-along[1], along[0]]))
    chosen = (off <= TOLERANCE) & (s > TOLERANCE) & (s < length - TOLERANCE)
    order = np.argsort(s[chosen])
    points, where = at[chosen][order], s[chosen][order]
    fresh = np.diff(where, prepend=-1.0) > TOLERANCE
    return np.asarray(points[fresh])


def _distances(point: Floats, starts: Floats, ends: Floats) -> Floats:
    run = ends - starts
    share = np.clip(((point - starts) * run).sum(axis=1) / (run * run).sum(axis=1), 0.0, 1.0)
    return np.asarray(np.hypot(*(starts + share[:, None] * run - point).T))
