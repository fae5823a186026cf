"""Which way strips of mat run and where the first one starts: no slivers, least mat, then shortest seams."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from service.cutting.effort import Effort
from service.cutting.rolls import rip
from service.cutting.runs import CutLengths, narrow_of
from service.cutting.sections import length_of
from service.cutting.steps import STEPS_PER_MM
from service.cutting.stock import Demand, Stock, cut
from service.takeoff.answer import MembraneLayout
from service.takeoff.geometry import FloorShape
from service.takeoff.sections import LEAST_MM, main_direction, turned
from service.takeoff.sticks import bought
from service.takeoff.strips import (
    LEAST_MM2,
    Band,
    Roll,
    bands_of,
    cut_from_rolls,
    laid,
    length_of_seams,
    seams_of,
    strip_breadth,
)

Rank = tuple[int, float, float]
"""Slivers, cost of whole rolls, and length of roll."""

MOST_LINES = 8
"""Longest edges whose lines are tried as edges of a strip, for each of floor and needed floor."""

MOST_STARTS = 80
EVEN_STARTS = 16
FEWEST_STARTS = 12
MOST_CUT = 16_000
"""Corners of the floor times starts, beyond which further starts are not tried."""
MOST_KEPT = 6
"""Starts of each direction between which and their neighbours more are tried."""


@dataclass(frozen=True, slots=True)
class Tried:
    """Bands from one start, level when the floor is turned back by `angle` [degrees]."""

    rank: Rank
    bands: list[Band]
    angle: float


def lay(
    shape: FloorShape, roll: Roll, gap: float, sliver: float, sizes: Sequence[Stock] = ()
) -> MembraneLayout:
    """Strips in the better of the two main directions, from the best start.

    Mat may stop `gap` short of walls [mm]; a strip of less than `sliver` [mm] is avoided where a start does
    without. Ranked by slivers, cost of the cheapest mix of whole rolls found in the `sizes` [mm] that they
    come in, length of roll that must be bought, length of seams and their number.
    """
    needed, goods = needed_floor(shape, gap), Goods(roll, sliver, tuple(sizes))
    along = main_direction(shape)
    tried = [each for angle in (along, along + 90.0) for each in _tried(shape.floor, needed, angle, goods)]
    least = min(each.rank for each in tried)
    best = min((each for each in tried if each.rank == least), key=lambda each: _seams(each.bands, roll))
    return cut_from_rolls(laid(best.bands, best.angle, roll), roll)


def needed_floor(shape: FloorShape, gap: float) -> BaseGeometry:
    """The floor less what lies within a gap of a wall [mm]; all of it where nothing else is left."""
    walls = [
        LineString([part.start, part.end]).buffer(gap, cap_style="square")
        for rings in shape.boundary
        for ring in rings
        for part in ring
        if part.restrained
    ]
    rest = shape.floor.difference(shapely.union_all(walls))
    return rest if rest.area > LEAST_MM2 else shape.floor


def _tried(floor: BaseGeometry, needed: BaseGeometry, angle: float, goods: Goods) -> list[Tried]:
    """Every start in one direction."""
    level, inner = turned(floor, -angle), turned(needed, -angle)
    shapely.prepare(inner)

    def ranked(starts: Sequence[float]) -> list[Tried]:
        tried = bands_of(level, inner, starts, goods.roll.width)
        return [Tried(goods.rank(bands), bands, angle) for bands in tried]

    starts = _starts(level, inner, goods.roll.width)
    first = ranked(starts)
    if _right_angled(level):
        return first
    return first + ranked(_between(starts, [each.rank for each in first], goods.roll.width))


def _between(starts: Sequence[float], ranks: Sequence[Rank], width: float) -> list[float]:
    """Starts on both sides of the best ones, half way to the next: between two corners' lines the length of
    the strips bends only where one of a strip's own two edges becomes the longer."""
    best = sorted(zip(ranks, starts, strict=True))[:MOST_KEPT]
    offsets = sorted((start - starts[0]) % width for start in starts)
    found: dict[float, None] = {}
    for _, start in best:
        at = offsets.index((start - starts[0]) % width)
        after = offsets[at + 1] if at + 1 < len(offsets) else offsets[0] + width
        before = offsets[at - 1] if at else offsets[-1] - width
        for side in (before, after):
            found[round(starts[0] + (offsets[at] + side) / 2.0, 2)] = None
    return list(found)


@dataclass(frozen=True, slots=True)
class Goods:
    """The roll strips are cut from, the narrowest strip [mm], and the sizes [mm] and costs rolls come in."""

    roll: Roll
    sliver: float
    sizes: tuple[Stock, ...]
    known: dict[tuple[float, ...], tuple[float, float]] = field(default_factory=dict, compare=False)

    def rank(self, bands: list[Band]) -> Rank:
        strips = [(band, span) for band in bands for span in band.spans]
        breadths = [high - low for low, high in (strip_breadth(*strip) for strip in strips)]
        slivers = sum(breadth < self.sliver - LEAST_MM for breadth in breadths)
        lengths = [end - start for _, (start, end) in strips]
        return slivers, *self._bought(self._sections(narrow_of(zip(lengths, breadths, strict=True))))

    def _bought(self, sections: Sequence[float]) -> tuple[float, float]:
        """Cost and length of roll for sections, reckoned once for the same lengths."""
        lengths = tuple(sorted(sections))
        if lengths not in self.known:
            self.known[lengths] = self._cost(lengths), self._metres(lengths)
        return self.known[lengths]

    def _sections(self, narrow: tuple[tuple[float, float, int], ...]) -> list[float]:
        pieces = CutLengths((), min_piece_mm=self.roll.least_piece, narrow=narrow).strips(self.roll.length)
        ripped = rip(pieces, self.roll.width, self.roll.length)
        return [length_of(section) / STEPS_PER_MM for section in ripped]

    def _cost(self, sections: Sequence[float]) -> float:
        """Of the whole rolls that the sections are cut from, several sizes mixed."""
        if not self.sizes:
            return 0.0
        demands = [Demand(length, 1) for length in sections]
        return round(cut(demands, self.sizes, 0.0, 0).cost, 4)

    def _metres(self, sections: Sequence[float]) -> float:
        """What must be bought of the usual roll: whole ones, and of the last what is cut off [mm]."""
        if sum(sections) <= self.roll.length:
            return round(sum(sections), 2)
        demands = [Demand(length, 1) for length in sections]
        return round(bought(cut(demands, [Stock(self.roll.length)], 0.0, 0, Effort(0)), 0.0), 2)


def _seams(bands: list[Band], roll: Roll) -> tuple[float, int]:
    """How long seams are together [m], and their number."""
    seams = seams_of(bands, roll)
    return round(length_of_seams(seams), 5), len(seams)


def _starts(level: BaseGeometry, inner: BaseGeometry, width: float) -> list[float]:
    """Lines at which a strip may begin: the lowest edge, then each level edge of the floor and of what is
    needed of it, and half a strip off each, where remainders at both sides are wider; then each corner, where
    the length of a strip bends, and some evenly apart."""
    lines = [level.bounds[1], *_edge_lines(level), *_edge_lines(inner)]
    corners = sorted({*_heights(level), *_heights(inner)})
    even = [lines[0] + number * width / EVEN_STARTS for number in range(1, EVEN_STARTS)]
    if _right_angled(level):
        even = []
    starts: dict[float, float] = {}
    for line in (*lines, *(line + width / 2.0 for line in lines), *corners, *even):
        starts.setdefault(round((line - lines[0]) % width, 2) % width, line)
    affordable = max(FEWEST_STARTS, MOST_CUT // len(corners_of(level, inner)))
    return list(starts.values())[: min(MOST_STARTS, affordable)]


def corners_of(*floors: BaseGeometry) -> npt.NDArray[np.float64]:
    """All corners of these floors [mm], of holes too."""
    return np.concatenate([shapely.get_coordinates(floor) for floor in floors])


def _right_angled(level: BaseGeometry) -> bool:
    """Whether all edges are level or upright: strips then change their length at corners' lines alone."""
    return all(
        bool((abs(np.diff(shapely.get_coordinates(ring), axis=0)).min(axis=1) < LEAST_MM).all())
        for polygon in shapely.get_parts(level)
        for ring in (polygon.exterior, *polygon.interiors)
    )


def _heights(level: BaseGeometry) -> list[float]:
    return [float(y) for y in np.round(shapely.get_coordinates(level)[:, 1], 2)]


def _edge_lines(level: BaseGeometry) -> list[float]:
    """The lines of the longest level edges, and of the lowest and the highest point."""
    lengths: dict[float, float] = defaultdict(float)
    for line, length in _level_edges(level):
        lengths[round(line, 2)] += length
    longest = sorted(lengths, key=lambda line: (-round(lengths[line], 1), line))
    return [level.bounds[1], level.bounds[3], *longest[:MOST_LINES]]


def _level_edges(level: BaseGeometry) -> Iterator[tuple[float, float]]:
    for polygon in shapely.get_parts(level):
        for ring in (polygon.exterior, *polygon.interiors):
            points = shapely.get_coordinates(ring)
            across, up = (points[1:] - points[:-1]).T
            for at in (abs(up) < LEAST_MM).nonzero()[0]:
                yield float(points[at][1]), float(abs(across[at]))
