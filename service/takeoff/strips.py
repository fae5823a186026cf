"""Mats from a roll laid side by side over a floor: strips, seams and what they take of the roll.

Mats are butted, never lapped: a lap would lift the tile.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise
from math import ceil, floor

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from service.cutting.rolls import cut_strips
from service.cutting.runs import narrow_of, split
from service.cutting.stock import Stock
from service.takeoff.answer import MembraneLayout, MembraneStrip
from service.takeoff.room import Point
from service.takeoff.sections import (
    LEAST_MM,
    Span,
    common_spans,
    merged,
    turned_point,
    upright_spans,
)

Geometries = NDArray[np.object_]
Seam = tuple[Point, Point]
LEAST_MM2 = 1.0  # a smaller part of the floor is noise of clipping


@dataclass(frozen=True, slots=True)
class Roll:
    """What mats are cut from: width and length, and the shortest piece joined to a longer one [mm]."""

    width: float
    length: float
    least_piece: float = 0.0


@dataclass(frozen=True, slots=True)
class Band:
    """One strip's breadth of the floor: its lower line, and the parts of the floor to be covered there."""

    line: float
    parts: tuple[BaseGeometry, ...]
    boxes: tuple[tuple[float, float, float, float], ...]  # of the parts

    @property
    def spans(self) -> list[Span]:
        """From where to where mat lies: a strip is parted where the floor is interrupted over its breadth."""
        return merged([(left, right) for left, _, right, _ in self.boxes])

    @property
    def left(self) -> float:
        return min(box[0] for box in self.boxes)

    @property
    def right(self) -> float:
        return max(box[2] for box in self.boxes)

    @property
    def area(self) -> BaseGeometry:
        return shapely.union_all(self.parts)


def bands_of(
    level: BaseGeometry, needed: BaseGeometry, starts: Sequence[float], width: float
) -> list[list[Band]]:
    """The floor, its strips level, in bands from each of these lines on; parts wholly outside of `needed` are
    left out."""
    lines = [_lines(level, start, width) for start in starts]
    bands = iter(_bands(level, needed, [line for each in lines for line in each], width))
    return [list(islice(bands, len(each))) for each in lines]


def _lines(level: BaseGeometry, start: float, width: float) -> list[float]:
    """The lower lines of the bands that the floor takes where one of them begins at `start`."""
    _, low, _, high = level.bounds
    first = start + floor((low - start + LEAST_MM) / width) * width
    return [first + number * width for number in range(ceil((high - first - LEAST_MM) / width))]


def _bands(level: BaseGeometry, needed: BaseGeometry, lines: list[float], width: float) -> list[Band]:
    left, _, right, _ = level.bounds
    below = np.array(lines)
    sides = np.full_like(below, left - 1.0), np.full_like(below, right + 1.0)
    cut = shapely.intersection(level, shapely.box(sides[0], below, sides[1], below + width))
    parts, owners = shapely.get_parts(cut, return_index=True)
    kept = shapely.area(parts) > LEAST_MM2
    kept[kept] = _are_needed(parts[kept], needed)
    parts, boxes = parts[kept], [tuple(box) for box in shapely.bounds(parts[kept]).tolist()]
    ends = np.searchsorted(owners[kept], np.arange(len(lines) + 1)).tolist()
    return [
        Band(line, tuple(parts[start:end]), tuple(boxes[start:end]))
        for line, (start, end) in zip(lines, pairwise(ends), strict=True)
    ]


def _are_needed(parts: Geometries, needed: BaseGeometry) -> NDArray[np.bool_]:
    """A point inside settles it for most parts; the area decides the others."""
    inside: NDArray[np.bool_] = shapely.contains(needed, shapely.point_on_surface(parts))
    inside[~inside] = shapely.area(shapely.intersection(parts[~inside], needed)) > LEAST_MM2
    return inside


def strip_breadth(band: Band, span: Span) -> Span:
    """The lowest and the highest point of the floor under a strip."""
    inside = [bounds for bounds in band.boxes if bounds[0] < span[1] and bounds[2] > span[0]]
    return min(bounds[1] for bounds in inside), max(bounds[3] for bounds in inside)


def laid(bands: list[Band], angle: float, roll: Roll) -> MembraneLayout:
    """The strips over bands that were made level by turning the room by -angle [degrees].

    A strip reaches as far as its part of the floor, and is joined end to end where it outruns a roll. What
    that takes of the roll is not reckoned yet: see `cut_from_rolls`.
    """
    seams = seams_of(bands, roll)
    return MembraneLayout(
        strips=tuple(_strip(band, span, angle) for band, span in _all_runs(bands, roll)),
        seam_length_m=length_of_seams(seams),
        rolls=0,
        area_m2=0.0,
        seams=tuple((turned_point(start, angle), turned_point(end, angle)) for start, end in seams),
    )


def cut_from_rolls(mat: MembraneLayout, roll: Roll) -> MembraneLayout:
    """The layout with the fewest rolls that its strips can be cut from, and how much of them is cut off."""
    strips = narrow_of((strip.length_m * 1000.0, strip.width_mm) for strip in mat.strips)
    cut = cut_strips(strips, roll.width, [Stock(roll.length)])
    return replace(
        mat,
        rolls=cut.plan.sticks,
        rolls_bound=round(cut.plan.bound),
        rolls_method=cut.plan.method,
        area_m2=cut.length * roll.width / 1e6,
    )


def seams_of(bands: list[Band], roll: Roll) -> tuple[Seam, ...]:
    """Where strips lie side by side or end to end, the floor being level [mm]."""
    return (*_side_seams(bands), *_end_seams(_all_runs(bands, roll)))


def length_of_seams(seams: Sequence[Seam]) -> float:
    """Level and upright seams together [m]."""
    return sum(_length(seam) for seam in seams) / 1000.0


def _all_runs(bands: list[Band], roll: Roll) -> list[tuple[Band, Span]]:
    return [(band, span) for band in bands for span in _runs(band, roll)]


def _runs(band: Band, roll: Roll) -> list[Span]:
    runs = []
    for start, end in band.spans:
        for piece in split(end - start, roll.length, roll.least_piece):
            runs.append((start, start + piece))
            start += piece
    return runs


def _strip(band: Band, span: Span, angle: float) -> MembraneStrip:
    low, high = _breadth_within(band, span)
    middle = (low + high) / 2.0
    return MembraneStrip(
        start=turned_point((span[0], middle), angle),
        end=turned_point((span[1], middle), angle),
        width_mm=high - low,
        length_m=(span[1] - span[0]) / 1000.0,
    )


def _breadth_within(band: Band, span: Span) -> Span:
    """The lowest and the highest point of the floor between the ends of a strip, which may lie in a part."""
    left, low, right, high = zip(*band.boxes, strict=True)
    if all(
        end <= span[0] or start >= span[1] or span[0] <= start <= end <= span[1]
        for start, end in zip(left, right, strict=True)
    ):
        return strip_breadth(band, span)
    strip = shapely.box(span[0], min(low), span[1], max(high))
    _, lowest, _, highest = band.area.intersection(strip).bounds
    return lowest, highest


def _side_seams(bands: list[Band]) -> list[Seam]:
    """Where two strips lie side by side: the floor just below the line and just above it."""
    beside = [(below, above) for below, above in pairwise(bands) if below.parts and above.parts]
    lower = _level_spans([(below, above.line - LEAST_MM) for below, above in beside])
    upper = _level_spans([(above, above.line + LEAST_MM) for _, above in beside])
    return [
        ((start, above.line), (end, above.line))
        for (_, above), under, over in zip(beside, lower, upper, strict=True)
        for start, end in common_spans(under, over)
    ]


def _level_spans(lines: Sequence[tuple[Band, float]]) -> list[list[Span]]:
    """Where the level line at a height lies on the floor of a band, for each of many."""
    ends = [[(band.left - 1.0, y), (band.right + 1.0, y)] for band, y in lines]
    owners = np.repeat(np.arange(len(lines)), [len(band.parts) for band, _ in lines])
    met = shapely.intersection(
        [part for band, _ in lines for part in band.parts],
        shapely.linestrings(np.array(ends).reshape(-1, 2, 2)[owners]),
    )
    pieces, part_of = shapely.get_parts(met, return_index=True)
    long = shapely.length(pieces) > LEAST_MM
    found: list[list[Span]] = [[] for _ in lines]
    for owner, (left, _, right, _) in zip(
        owners[part_of[long]].tolist(), shapely.bounds(pieces[long]).tolist(), strict=True
    ):
        found[owner].append((left, right))
    return [merged(spans) for spans in found]


def _end_seams(runs: list[tuple[Band, Span]]) -> list[Seam]:
    """Where a strip goes on with the next roll."""
    joins = [
        (band, one[1])
        for (band, one), (next_band, following) in pairwise(runs)
        if band is next_band and one[1] == following[0]
    ]
    return [((x, low), (x, high)) for band, x in joins for low, high in upright_spans(band.area, x)]


def _length(seam: Seam) -> float:
    (x0, y0), (x1, y1) = seam
    return float(abs(x1 - x0) + abs(y1 - y0))
