"""Rooms for tests: rectangles, and hypothesis strategies for right-angled and oblique outlines."""

from __future__ import annotations

import math
from typing import Any

from hypothesis import strategies as st
from shapely import Polygon, box, union_all

from service.takeoff.room import Outline, Point, Ring, Room, Tile


def rectangle(length: float, width: float) -> Ring:
    return ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


def walled(ring: Ring, holes: tuple[Ring, ...] = (), walls: tuple[int, ...] | None = None) -> Outline:
    edges = len(ring) + sum(map(len, holes))
    return Outline(ring, holes, tuple(range(edges)) if walls is None else walls)


def room_of(
    ring: Ring, holes: tuple[Ring, ...] = (), walls: tuple[int, ...] | None = None, **said: Any
) -> Room:
    said.setdefault("tile", Tile(300, 300))
    return Room("room", walled(ring, holes, walls), **said)


def ring_of(coords: Any) -> Ring:
    return tuple((float(x), float(y)) for x, y in list(coords)[:-1])


def outline_of(polygon: Polygon) -> Outline:
    return walled(ring_of(polygon.exterior.coords), tuple(ring_of(r.coords) for r in polygon.interiors))


@st.composite
def rectilinear(draw: st.DrawFn, largest: int = 4000) -> Outline:
    """A union of overlapping rectangles, sometimes with a hole."""
    sizes = st.integers(400, largest)
    shape = box(0, 0, draw(sizes), draw(sizes))
    for _ in range(draw(st.integers(0, 3))):
        min_x, min_y, max_x, max_y = map(int, shape.bounds)
        x, y = draw(st.integers(min_x, max_x)), draw(st.integers(min_y, max_y))
        grown = union_all([shape, box(x, y, x + draw(sizes), y + draw(sizes))])
        shape = grown if isinstance(grown, Polygon) else shape
    if draw(st.booleans()):
        point = shape.representative_point()
        hole = box(*(round(c) for c in point.buffer(draw(st.integers(60, 400))).bounds))
        shape = shape.difference(hole) if shape.buffer(-50).contains(hole) else shape
    return outline_of(shape.simplify(0))


@st.composite
def star(draw: st.DrawFn, largest: int = 2500) -> Outline:
    """An oblique polygon, seen whole from its middle, sometimes with a hole."""
    count = draw(st.integers(3, 9))
    radii = draw(st.lists(st.integers(500, largest), min_size=count, max_size=count))
    turn = draw(st.floats(0, 1))
    points: list[Point] = [
        (
            round(r * math.cos(2 * math.pi * (i + turn) / count), 2),
            round(r * math.sin(2 * math.pi * (i + turn) / count), 2),
        )
        for i, r in enumerate(radii)
    ]
    hole = tuple((round(80 * math.cos(a), 2), round(80 * math.sin(a), 2)) for a in (0.3, 2.1, 4.4))
    with_hole = draw(st.booleans()) and Polygon(points).contains_properly(Polygon(hole))
    return walled(tuple(points), (hole,) if with_hole else ())
