"""What bounds the floor on paper: walls, open edges and doorways."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from xml.etree.ElementTree import Element

from shapely import LinearRing

from service.render.lengths import LengthUnits, length_text
from service.render.sheet import EXTRA_WIDE, MEDIUM, WIDE, Sheet
from service.render.svg import clipped, group, line, number, path, text
from service.takeoff.edges import Edge, Opening, edges_of, openings_of
from service.takeoff.room import Doorway, Outline, Point, Room

WALL = 2.2
"""How thick a wall is drawn; its real thickness is not known [mm on paper]."""
OPEN_DASH = "3.5 1.5"
WORDS = 2.2
"""Font size of the words along a side [mm]."""
SAME_POINT = 1.0  # [mm in the room]


@dataclass(frozen=True)
class Bounds:
    """The sides of a room on a sheet."""

    outline: Outline
    doorways: tuple[Doorway, ...]
    sheet: Sheet

    @cached_property
    def rings(self) -> list[tuple[Edge, ...]]:
        """The edges of the outline, then those of each hole."""
        edges, rings = list(edges_of(self.outline)), (self.outline.ring, *self.outline.holes)
        return [tuple(edges.pop(0) for _ in ring) for ring in rings]

    @cached_property
    def openings(self) -> tuple[Opening, ...]:
        return openings_of(self.doorways, tuple(edge for ring in self.rings for edge in ring))

    @cached_property
    def floor_on_left(self) -> dict[int, bool]:
        """By number of edge: seen along it, whether the floor is on the left."""
        return {
            edge.number: LinearRing([e.start for e in ring]).is_ccw == (i == 0)
            for i, ring in enumerate(self.rings)
            for edge in ring
        }

    def outward(self, number: int, start: Point, end: Point, by: float) -> Point:
        """The step from the floor across a side on paper, `by` mm long."""
        dx, dy = end[0] - start[0], end[1] - start[1]
        part = (by if self.floor_on_left[number] else -by) / (math.hypot(dx, dy) or 1.0)
        return -dy * part, dx * part

    def wall_runs(self) -> list[list[Point]]:
        """The walls less their doorways on paper, as lines that go round corners without a break."""
        runs = [_chained(piece for edge in ring for piece in self._solid(edge)) for ring in self.rings]
        return [[self.sheet.at(p) for p in run] for of_ring in runs for run in of_ring]

    def _solid(self, edge: Edge) -> Iterator[tuple[Point, Point]]:
        """The parts of a wall between its doorways, in its direction; nothing of an open edge."""
        if not edge.wall:
            return
        own = sorted(
            (o for o in self.openings if o.doorway.wall == edge.number), key=lambda o: o.doorway.offset
        )
        starts = [edge.start, *(o.end for o in own)]
        ends = [*(o.start for o in own), edge.end]
        yield from ((a, b) for a, b in zip(starts, ends, strict=True) if math.dist(a, b) > SAME_POINT)


def _chained(pieces: Iterable[tuple[Point, Point]]) -> list[list[Point]]:
    """Pieces that meet, joined; a run all round repeats its first side, so that every corner is a corner."""
    runs: list[list[Point]] = []
    for start, end in pieces:
        if runs and math.dist(runs[-1][-1], start) <= SAME_POINT:
            runs[-1].append(end)
        else:
            runs.append([start, end])
    if len(runs) > 1 and math.dist(runs[-1][-1], runs[0][0]) <= SAME_POINT:
        runs[0] = runs.pop() + runs[0][1:]
    return [[*run, run[1]] if math.dist(run[0], run[-1]) <= SAME_POINT else run for run in runs]


def draw_ground(root: Element, bounds: Bounds) -> None:
    """Walls as a grey band about their line, then the floor over the band's inner half.

    What stays grey inside the room is joint, or is not tiled.
    """
    band = group(root, "walls", fill="none", stroke="#9a9a9a", stroke_width=number(2 * WALL))
    for run in bounds.wall_runs():
        path(band, [run], closed=False)
    floor = group(root, "floor", fill="#d8d8d8", fill_rule="evenodd")
    path(floor, ([bounds.sheet.at(edge.start) for edge in ring] for ring in bounds.rings))


def draw_wall_lines(root: Element, bounds: Bounds) -> None:
    lines = group(root, "wall-lines", fill="none", stroke="#000", stroke_width=number(EXTRA_WIDE))
    for run in bounds.wall_runs():
        path(lines, [run], closed=False)


def draw_open_edges(root: Element, bounds: Bounds) -> None:
    layer = group(root, "open-edges", fill="#000", text_anchor="middle")
    for edge in (edge for ring in bounds.rings for edge in ring if not edge.wall):
        start, end = bounds.sheet.at(edge.start), bounds.sheet.at(edge.end)
        line(layer, start, end, stroke="#000", stroke_width=number(EXTRA_WIDE), stroke_dasharray=OPEN_DASH)
        _words_along(layer, bounds, edge.number, (start, end), "open edge", 1.4)


def entrance_of(room: Room) -> int:
    """The doorway through which one comes in: that in focus, or else the first."""
    return room.focus.number if room.focus and room.focus.kind == "doorway" else 0


def draw_doorways(root: Element, bounds: Bounds, units: LengthUnits, entrance: int) -> None:
    """The threshold, the jambs across the wall, the way in, the clear width and what lies beyond."""
    layer = group(root, "doorways", stroke="#000", fill="none")
    words = group(root, "doorway-words", fill="#000", text_anchor="middle")
    for i, opening in enumerate(bounds.openings):
        start, end = bounds.sheet.at(opening.start), bounds.sheet.at(opening.end)
        step = bounds.outward(opening.doorway.wall, start, end, WALL)
        line(layer, start, end, stroke_width=number(MEDIUM))
        for jamb in (start, end):
            line(layer, jamb, (jamb[0] + step[0], jamb[1] + step[1]), stroke_width=number(WIDE))
        if i == entrance:
            way_in(layer, ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2), step)
        beyond = f" to {opening.doorway.adjoining}" if opening.doorway.adjoining else ""
        said = f"door {length_text(opening.doorway.width, units)}{beyond}"
        _words_along(words, bounds, opening.doorway.wall, (start, end), said, WALL + 0.8)


def way_in(layer: Element, threshold: Point, outward: Point) -> None:
    """A black triangle whose tip stands on the threshold."""
    (x, y), (dx, dy) = threshold, outward
    base = [(x + dx - s * dy * 0.8, y + dy + s * dx * 0.8) for s in (1, -1)]
    path(layer, [[threshold, *base]], fill="#000", stroke="none")


def _words_along(
    parent: Element, bounds: Bounds, number_: int, side: Sequence[Point], words: str, gap: float
) -> None:
    """Words outside a side, along it and never upside down."""
    start, end = side
    turn = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    turn = turn - 180 if turn > 90 + 1e-6 else turn + 180 if turn <= -90 + 1e-6 else turn
    up = math.sin(math.radians(turn)), -math.cos(math.radians(turn))
    step = bounds.outward(number_, start, end, 1.0)
    above = up[0] * step[0] + up[1] * step[1] > 0
    far = gap if above else gap + 0.72 * WORDS
    at = ((start[0] + end[0]) / 2 + far * step[0], (start[1] + end[1]) / 2 + far * step[1])
    text(parent, at, clipped(words, WORDS, max(math.dist(start, end), 48.0)), WORDS, turn)
