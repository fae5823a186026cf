"""Laid tile that is cut along a line, its halves staying in place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from math import dist

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from service.takeoff.answer import CutPiece, Cuts, Plan
from service.takeoff.cuts import Sawing, total
from service.takeoff.placed import (
    Line,
    Outlines,
    cut_pieces_of,
    outlines_at,
    sides_of_tile,
    whole_cells_near,
    whole_tiles_near,
)

SAME_DIRECTION = 1e-6
FAR = 1e5
"""No tile is longer [mm]."""


def sawn_along(lines: Sequence[Line], plan: Plan, least: float) -> Sawing:
    """The cuts of laid tile along some lines, one for each piece and line, and their length [mm].

    What a line crosses over less than `least` mm, or parts off narrower, is not cut.
    """
    tiles = range(len(plan.lattice.tiles)) if lines else ()
    sawings = (each for tile in tiles for each in _of_kind(lines, plan, tile, least))
    return total([Sawing(Cuts(), 0.0), *sawings])


def _of_kind(lines: Sequence[Line], plan: Plan, tile: int, least: float) -> Iterator[Sawing]:
    cut, sides = cut_pieces_of(plan, tile), sides_of_tile(plan.lattice, tile)
    for line in lines:
        _, crossed = _crossed(np.concatenate([whole_tiles_near(plan, tile, line), cut]), line, least)
        yield Sawing(_counted(len(crossed), line, sides), float(crossed.sum()))


def tiles_cut_along(line: Line, plan: Plan, least: float) -> list[tuple[CutPiece, Line]]:
    """What `sawn_along` counts on one line, one by one along it: each piece with this one cut, the piece of a
    whole tile without an id, and where the line enters and leaves it."""
    found = (
        each for tile in range(len(plan.lattice.tiles)) for each in _cut_one_by_one(line, plan, tile, least)
    )
    return sorted(found, key=lambda each: dist(line[0], each[1][0]))


def _cut_one_by_one(line: Line, plan: Plan, tile: int, least: float) -> Iterator[tuple[CutPiece, Line]]:
    pieces = [*_whole_near(line, plan, tile), *(piece for piece in plan.cut if piece.tile == tile)]
    outlines = np.array([Polygon(piece.outline, piece.holes) for piece in pieces], dtype=object)
    cuts = _counted(1, line, sides_of_tile(plan.lattice, tile))
    for place in _crossed(outlines, line, least)[0]:
        yield replace(pieces[place], cuts=cuts), _over(outlines[place], line)


def _whole_near(line: Line, plan: Plan, tile: int) -> Iterator[CutPiece]:
    rows, columns = whole_cells_near(plan, tile, line)
    outlines = outlines_at(plan.lattice, tile, rows, columns)
    for row, column, outline in zip(rows, columns, outlines, strict=True):
        ring = tuple((float(x), float(y)) for x, y in outline.exterior.coords[:-1])
        yield CutPiece("", int(row), int(column), ring, (), Cuts(), tile)


def _over(outline: Polygon, line: Line) -> Line:
    """Where a line enters a piece and where it leaves it for the last time."""
    ends = shapely.get_coordinates(outline.intersection(LineString(line))).tolist()
    (x0, y0), *_, (x1, y1) = sorted(ends, key=lambda end: dist(line[0], end))
    return (x0, y0), (x1, y1)


def _counted(count: int, line: Line, sides: Sequence[Line]) -> Cuts:
    straight = any(_parallel(line, side) for side in sides)
    return Cuts(straight=count) if straight else Cuts(diagonal=count)


def _crossed(outlines: Outlines, line: Line, least: float) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """The places of the pieces that the line cuts, and how long it runs over each [mm]."""
    drawn = LineString(line)
    places = np.flatnonzero(shapely.intersects(outlines, drawn))
    met = outlines[places]
    lengths = shapely.length(shapely.intersection(met, drawn))
    left = shapely.area(shapely.intersection(met, _left_of(line)))
    narrower = np.minimum(left, shapely.area(met) - left)
    cut = (lengths > least) & (narrower >= least * lengths / 2)
    return places[cut], np.asarray(lengths[cut])


def _left_of(line: Line) -> Polygon:
    """The ground on the left of a line, as far as any tile on it reaches."""
    start, end = np.array(line)
    ahead = (end - start) / dist(*line) * (dist(*line) + FAR)
    aside = np.array([-ahead[1], ahead[0]])
    low, high = start - ahead, end + ahead
    return Polygon([low, high, high + aside, low + aside])


def _parallel(one: Line, other: Line) -> bool:
    (ax, ay), (bx, by) = ((end[0] - start[0], end[1] - start[1]) for start, end in (one, other))
    return abs(ax * by - ay * bx) <= SAME_DIRECTION * dist(*one) * dist(*other)
