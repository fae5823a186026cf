"""Which way strips of mat run and where the first one starts: no slivers, least mat, then shortest seams."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from service.cutting.effort import Effort
from service.cutting.rolls import rip
from service.cutting.runs import CutLengths
from service.cutting.sections import length_of
from service.cutting.stock import STEPS_PER_MM, Demand, Stock, cut
from service.takeoff.answer import MembraneLayout
from service.takeoff.geometry import FloorShape
from service.takeoff.sections import LEAST_MM, main_direction, turned
from service.takeoff.sticks import bought, narrow_of
from service.takeoff.strips import LEAST_MM2, Band, Roll, bands_of, cut_from_rolls, laid, strip_breadth

Rank = tuple[int, float]
"""Slivers, and metres of roll."""

MOST_LINES = 8
"""Longest edges whose lines are tried as edges of a strip, for each of floor and needed floor."""


def lay(shape: FloorShape, roll: Roll, gap: float, sliver: float) -> MembraneLayout:
    """Strips in the better of the two main directions, from the best start.

    Mat may stop `gap` short of walls [mm]; a strip of less than `sliver` [mm] is avoided where a start does
    without. Ranked by slivers, length of roll that must be bought, length of seams and their number.
    """
    needed = needed_floor(shape, gap)
    along = main_direction(shape)
    best = min(
        (
            mat
            for angle in (along, along + 90.0)
            for mat in _of_direction(shape.floor, needed, angle, roll, sliver)
        ),
        key=lambda ranked: (ranked[0], _seams(ranked[1])),
    )
    return cut_from_rolls(best[1], roll)


def lay_along(floor: BaseGeometry, angle: float, roll: Roll) -> MembraneLayout:
    """Strips over all of a floor in one direction [degrees], the first one along its lowest edge."""
    level = turned(floor, -angle)
    return cut_from_rolls(laid(bands_of(level, level, level.bounds[1], roll.width), angle, roll), roll)


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


def _of_direction(
    floor: BaseGeometry, needed: BaseGeometry, angle: float, roll: Roll, sliver: float
) -> list[tuple[Rank, MembraneLayout]]:
    """The layouts of the best starts in one direction, alike in slivers and length of roll."""
    level, inner = turned(floor, -angle), turned(needed, -angle)
    shapely.prepare(inner)
    tried = [bands_of(level, inner, start, roll.width) for start in _starts(level, inner, roll.width)]
    ranks = [_rank(bands, roll, sliver) for bands in tried]
    best = min(ranks)
    return [
        (best, laid(bands, angle, roll)) for bands, rank in zip(tried, ranks, strict=True) if rank == best
    ]


def _rank(bands: list[Band], roll: Roll, sliver: float) -> Rank:
    strips = [(band, span) for band in bands for span in band.spans]
    breadths = [high - low for low, high in (strip_breadth(*strip) for strip in strips)]
    slivers = sum(breadth < sliver - LEAST_MM for breadth in breadths)
    lengths = [end - start for _, (start, end) in strips]
    narrow = narrow_of(zip(lengths, breadths, strict=True))
    pieces = CutLengths((), min_piece_mm=roll.least_piece, narrow=narrow).strips(roll.length)
    sections = [length_of(section) / STEPS_PER_MM for section in rip(pieces, roll.width, roll.length)]
    if sum(sections) <= roll.length:
        return slivers, round(sum(sections), 2)
    demands = [Demand(length, 1) for length in sections]
    return slivers, round(bought(cut(demands, [Stock(roll.length)], 0.0, 0, Effort(0)), 0.0), 2)


def _seams(mat: MembraneLayout) -> tuple[float, int]:
    return round(mat.seam_length_m, 5), len(mat.seams)


def _starts(level: BaseGeometry, inner: BaseGeometry, width: float) -> list[float]:
    """Lines at which a strip may begin: the lowest edge, then each level edge of the floor and of what is
    needed of it, and half a strip off each, where remainders at both sides are wider."""
    lines = [level.bounds[1], *_edge_lines(level), *_edge_lines(inner)]
    starts: dict[float, float] = {}
    for line in (*lines, *(line + width / 2.0 for line in lines)):
        starts.setdefault(round((line - lines[0]) % width, 2) % width, line)
    return list(starts.values())


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
