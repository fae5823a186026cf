"""A drawing sheet: paper size, scale, and the way from room coordinates to millimetres on paper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product

from service.takeoff.room import Point

SCALES = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10000)
"""Reduction scales 1:n of ISO 5455."""
PAPERS = (("A4", 297.0, 210.0), ("A4", 210.0, 297.0), ("A3", 420.0, 297.0), ("A3", 297.0, 420.0))
"""Trimmed sizes of ISO 216 [mm], the smaller sheet and landscape first."""

MARGIN = 10.0
BLOCK_HEIGHT = 40.0
"""The block of title, legend and scale bar along the bottom [mm]."""
NARROW = 270.0
LEGEND_HEIGHT = 24.0
"""On a sheet narrower than the one its legend stands below title and scale, in a part of this height [mm]."""
LEFT, BELOW, AROUND = 24.0, 24.0, 12.0
"""Room for dimensions left and below, for walls and their words right and above [mm]."""

THIN, MEDIUM, WIDE, EXTRA_WIDE = 0.25, 0.35, 0.5, 0.7
"""Line widths of the series of ISO 128-2, each about 1.4 times the one before [mm]."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """Paper [mm], scale 1:`scale`, and where the room's bounding box stands on it."""

    paper: str
    width: float
    height: float
    scale: int
    low: Point  # of the room's bounding box [mm in the room]
    high: Point
    left: float  # of the same box on the paper [mm]
    bottom: float

    def at(self, point: Point) -> Point:
        """A point of the room on the paper, where y runs down."""
        x = self.left + (point[0] - self.low[0]) / self.scale
        y = self.bottom - (point[1] - self.low[1]) / self.scale
        return x, y

    @property
    def block_top(self) -> float:
        return self.height - MARGIN - block_height(self.width)

    @property
    def narrow(self) -> bool:
        """Whether the legend stands below title and scale."""
        return self.width < NARROW


def block_height(width: float) -> float:
    """Of the block on a sheet of this width [mm]."""
    return BLOCK_HEIGHT + (LEGEND_HEIGHT if width < NARROW else 0.0)


def sheet_for(points: Iterable[Point]) -> Sheet:
    """The largest scale at which the points fit a sheet, on the smallest such sheet, in its middle."""
    xs, ys = zip(*points, strict=True)
    low, high = (min(xs), min(ys)), (max(xs), max(ys))
    length, depth = high[0] - low[0], high[1] - low[1]
    for scale, (paper, width, height) in product(SCALES, PAPERS):
        spare_x = width - 2 * MARGIN - LEFT - AROUND - length / scale
        free = height - 2 * MARGIN - block_height(width)
        spare_y = free - BELOW - AROUND - depth / scale
        if min(spare_x, spare_y) >= 0:
            left, bottom = MARGIN + LEFT + spare_x / 2, MARGIN + free - BELOW - spare_y / 2
            return Sheet(paper, width, height, scale, low, high, left, bottom)
    raise ValueError(f"{max(length, depth):g} mm fit no sheet at 1:{SCALES[-1]}")
