"""Where movement joints cross a span: as few as the limit allows, on grout joints where there are any."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count, pairwise
from math import ceil, floor, inf

from service.takeoff.answer import Lattice, Layout
from service.takeoff.room import PatternKind, Room
from service.takeoff.sections import Span, turned_point

NOISE = 1e-9
SAME_DIRECTION_DEG = 1e-6


_STRAIGHT: tuple[PatternKind, ...] = ("stack_bond", "running_bond", "basket_weave")


@dataclass(frozen=True, slots=True)
class Limit:
    """How far apart joints may lie [mm], how large a part may be [m2], how wide joints are at least [mm]."""

    spacing_mm: float
    spacing_key: str
    width_mm: float
    area_m2: float = inf


@dataclass(frozen=True, slots=True)
class Grid:
    """Straight grout joints: one of them and their repeat [mm]."""

    start: float
    pitch: float


def divided(
    spans: tuple[Span, Span],
    limit: Limit,
    grids: tuple[Grid | None, Grid | None] = (None, None),
    largest_mm2: Callable[[list[float], list[float]], float] | None = None,
) -> tuple[list[float], list[float]]:
    """Positions of the joints across two spans [mm], so that no bay is wider than the limit or larger.

    ceil(span / limit) - 1 each way: 30 ft at 25 ft take one, 24 ft none (TCNA EJ171). Where bays are still
    too large for the limit of area, their longer side is divided once more. `largest_mm2` gives the largest
    part that joints at such positions leave; without it every bay is taken to be tiled all over.
    """
    least = [0, 0]
    while True:
        cuts = [
            _cuts(span, limit.spacing_mm, n, grid) for span, n, grid in zip(spans, least, grids, strict=True)
        ]
        sides = [_widest(span, at) for span, at in zip(spans, cuts, strict=True)]
        largest = largest_mm2(cuts[0], cuts[1]) if largest_mm2 else sides[0] * sides[1]
        if largest / 1e6 <= limit.area_m2 * (1 + NOISE):
            return cuts[0], cuts[1]
        longer = 0 if sides[0] >= sides[1] else 1
        least[longer] = len(cuts[longer]) + 1


def grout_grids(room: Room, layout: Layout, angle: float) -> tuple[Grid | None, Grid | None]:
    """The straight grout joints across and along the main direction; None where tiles would be cut.

    Stack bond has them both ways, basket weave between its blocks, running bond along its courses; other
    patterns, and any that lie askew to the walls, have none.
    """
    if layout.plan is None or room.pattern.kind not in _STRAIGHT:
        return None, None
    lattice = layout.plan.lattice
    quarters = (lattice.rotation_deg - angle) / 90.0
    if abs(quarters - round(quarters)) * 90.0 > SAME_DIRECTION_DEG:
        return None, None
    corner = turned_point((-room.joint / 2.0, -room.joint / 2.0), lattice.rotation_deg)
    x, y = turned_point((lattice.origin[0] + corner[0], lattice.origin[1] + corner[1]), -angle)
    rows, columns = lattice.pitch_y_mm, _columns(room, lattice)
    pitches = (columns, rows) if round(quarters) % 2 == 0 else (rows, columns)
    return _grid(x, pitches[0]), _grid(y, pitches[1])


def _columns(room: Room, lattice: Lattice) -> float | None:
    """How far joints straight across the courses lie apart [mm]; None where a course is shifted."""
    if room.pattern.kind == "basket_weave":
        return lattice.pitch_y_mm
    return None if lattice.row_shift_mm else lattice.pitch_x_mm


def _grid(start: float, pitch: float | None) -> Grid | None:
    return Grid(start, pitch) if pitch else None


def _cuts(span: Span, most: float, least: int, grid: Grid | None) -> list[float]:
    """Evenly spread positions, each moved to the grout joint nearest to it that keeps to the limit."""
    fewest = max(ceil((span[1] - span[0]) / most - NOISE) - 1, least)
    if grid is not None:
        for number in range(fewest, floor((span[1] - span[0]) / grid.pitch) + 1):
            snapped = _snapped(span, most, number, grid)
            if len(snapped) == number:
                return snapped
    return list(_even(span, fewest))


def _even(span: Span, number: int) -> Iterator[float]:
    low, high = span
    return (low + (high - low) * place / (number + 1) for place in range(1, number + 1))


def _snapped(span: Span, most: float, number: int, grid: Grid) -> list[float]:
    """Grout joints near to the even spread; fewer than asked for where the limit cannot be kept on them."""
    placed: list[float] = []
    for remaining, spot in zip(count(number, -1), _even(span, number), strict=False):
        last = placed[-1] if placed else span[0]
        first = ceil(
            (max(span[1] - remaining * most, last + grid.pitch / 2) - grid.start) / grid.pitch - NOISE
        )
        final = floor((min(last + most, span[1]) - grid.start) / grid.pitch + NOISE)
        if first > final:
            return placed
        step = min(max(round((spot - grid.start) / grid.pitch), first), final)
        placed.append(grid.start + step * grid.pitch)
    return placed


def _widest(span: Span, cuts: list[float]) -> float:
    return max(b - a for a, b in pairwise([span[0], *cuts, span[1]]))


def on_grout(grid: Grid | None, at: float) -> bool:
    """Whether a joint at this place follows a grout joint."""
    if grid is None:
        return False
    steps = (at - grid.start) / grid.pitch
    return abs(steps - round(steps)) < 1e-6
