"""The folds of a floor laid to falls: where its planes meet, and the tile that is cut along them.

Point falls: planes run from the walls to the drain and meet in folds from the drain to the corners that it
sees; between two drains runs a ridge. Linear falls fold along the low line where floor lies on both sides.
Tile of short edges follows such a floor without being cut. Both halves of a folded tile are used in place,
so that no more tile is needed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import dist, fsum

from shapely import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import split

from service.takeoff.answer import Cuts, Finding, Layout, Step
from service.takeoff.cuts import Sawing, total
from service.takeoff.falls import Catchment, Line, catchments, drain_line, sides_of_line
from service.takeoff.geometry import FloorShape
from service.takeoff.placed import Placed, pieces_on
from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, Room
from service.trade.values import TradeValues

NEAR = 0.01
"""How far sight may graze a wall [mm]."""
LEAST_SIDE_MM = 1.0
"""A fold wants floor on both sides, at least as wide [mm]."""
SAME_DIRECTION = 1e-6


@dataclass(frozen=True, slots=True)
class FoldsTake:
    """Fold lines [mm in the room], the layout with the cuts along them, and what is said of it."""

    answer: tuple[Line, ...]
    layout: Layout
    step: Step


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> FoldsTake:
    """Folds of one room; no floor without falls, and none that is not laid out, has any."""
    if room.falls == "none" or layout.plan is None:
        return FoldsTake((), layout, Step())
    lines = fold_lines(room, shape)
    follows = _follows(room, values)
    sawing = Sawing(Cuts(), 0.0) if follows else sawn_along(lines, room, layout)
    folded = replace(
        layout,
        cuts=total([Sawing(layout.cuts, 0.0), sawing]).cuts,
        cut_length_m=layout.cut_length_m + sawing.length / 1e3,
    )
    return FoldsTake(lines, folded, Step(findings=tuple(_findings(room, shape, lines, sawing, values))))


def fold_lines(room: Room, shape: FloorShape) -> tuple[Line, ...]:
    """Where the planes of the floor meet, as far as tile lies there [mm in the room]."""
    ground: BaseGeometry = shape.field
    for obstruction, drain in zip(room.obstructions, shape.obstructions, strict=True):
        ground = ground.difference(drain) if obstruction.kind == "drain" else ground
    folds = _point_folds(catchments(room, shape)) if room.falls == "point" else _linear_fold(room, shape)
    return tuple(line for fold in folds for line in _on(ground, fold))


def sawn_along(lines: Sequence[Line], room: Room, layout: Layout) -> Sawing:
    """The cuts that fold laid tile along some lines, and their length [mm]."""
    crossed = (
        _crossing(piece, line, room.min_piece)
        for line in lines
        for piece in (pieces_on(layout.plan, line) if layout.plan else ())
    )
    return total([Sawing(Cuts(), 0.0), *(sawing for sawing in crossed if sawing)])


def _crossing(piece: Placed, line: Line, least: float) -> Sawing | None:
    """The cut of one piece; None where the line only grazes it."""
    fold = LineString(line)
    length = fold.intersection(piece.outline).length
    halves = list(split(piece.outline, fold).geoms)
    smallest = min(half.area for half in halves)
    if length < max(least, TOLERANCE) or (len(halves) > 1 and smallest < least * length / 2):
        return None
    straight = any(_parallel(line, side) for side in piece.sides)
    return Sawing(Cuts(straight=1) if straight else Cuts(diagonal=1), length)


def _parallel(one: Line, other: Line) -> bool:
    (ax, ay), (bx, by) = ((end[0] - start[0], end[1] - start[1]) for start, end in (one, other))
    return abs(ax * by - ay * bx) <= SAME_DIRECTION * dist(*one) * dist(*other)


def _point_folds(parts: Sequence[Catchment]) -> Iterator[LineString]:
    for part in parts:
        yield from (LineString([part.drain, corner]) for corner in part.corners if _sees(part, corner))
    for one, other in combinations(parts, 2):
        ridge = one.ground.intersection(other.ground)
        yield from (line for line in getattr(ridge, "geoms", [ridge]) if isinstance(line, LineString))


def _linear_fold(room: Room, shape: FloorShape) -> Iterator[LineString]:
    line = drain_line(room, shape)
    least = LEAST_SIDE_MM * LineString(line).intersection(shape.polygon).length
    if all(side.area > least for side in sides_of_line(shape.polygon, line)):
        yield LineString(line)


def _sees(part: Catchment, corner: Point) -> bool:
    sight = LineString([part.drain, corner])
    return bool(part.ground.buffer(NEAR, join_style="mitre").covers(sight))


def _on(ground: BaseGeometry, fold: LineString) -> Iterator[Line]:
    laid = fold.intersection(ground)
    for piece in getattr(laid, "geoms", [laid]):
        if piece.length > LEAST_SIDE_MM:
            (x0, y0), (x1, y1) = piece.coords[0], piece.coords[-1]
            yield (x0, y0), (x1, y1)


def _follows(room: Room, values: TradeValues) -> bool:
    """Whether the tile is small enough to lie on planes that meet."""
    return max(tile.longest_edge for tile in room.tiles) <= values.number("falls.cone_edge")


def _findings(
    room: Room, shape: FloorShape, lines: Sequence[Line], sawing: Sawing, values: TradeValues
) -> Iterator[Finding]:
    source, edge = values.citation("falls.cone_edge"), values.number("falls.cone_edge")
    metres = fsum(dist(*line) for line in lines) / 1e3
    if lines and _follows(room, values):
        said = f"Tile with edges up to {edge:g} mm follows the falls: no cuts along {metres:.2f} m of folds."
        yield Finding("folds", "pass", said, source)
    elif lines:
        count = sawing.cuts.straight + sawing.cuts.diagonal
        said = (
            f"Tile with an edge over {edge:g} mm cannot follow falls to a {room.falls}: "
            f"it is cut along {metres:.2f} m of folds, {count} cuts. Smaller tile needs none of them"
            + (", nor does a linear drain along a wall." if room.falls == "point" else ".")
        )
        yield Finding("folds", "condition", said, source)
    hidden = _hidden(catchments(room, shape)) if room.falls == "point" else 0
    if hidden:
        said = (
            f"The drain does not see {hidden} corners of the floor: what lies there wants a drain of its own."
        )
        yield Finding("folds_hidden", "condition", said, values.citation("falls.sight"))


def _hidden(parts: Sequence[Catchment]) -> int:
    return sum(not _sees(part, corner) for part in parts for corner in part.corners)
