"""The folds of a floor laid to falls: where its planes meet, and the tile that is cut along them.

Point falls: planes run from the walls to the drain and meet in folds from the drain to the corners that it
sees; between two drains runs a ridge. Linear falls fold along the low line where floor lies on both sides.
Tile of short edges follows such a floor without being cut. Both halves of a folded tile are used in place,
so that no more tile is needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import dist, fsum

from shapely import LineString, prepare, union_all
from shapely.geometry.base import BaseGeometry

from service.sentence import Sentence, say
from service.takeoff.answer import Finding, Layout, Step
from service.takeoff.crossings import sawn_along
from service.takeoff.cuts import Sawing, total
from service.takeoff.falls import Catchment, Line, catchments, drain_line, sides_of_line
from service.takeoff.geometry import FloorShape
from service.takeoff.room import Point, Room
from service.trade.values import TradeValues

NEAR = 0.01
"""How far sight may graze a wall [mm]."""
LEAST_SIDE_MM = 1.0
"""A fold wants floor on both sides, at least as wide [mm]."""


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
    parts = catchments(room, shape) if room.falls == "point" else ()
    lines = _laid(room, shape, _point_folds(parts) if parts else _linear_fold(room, shape))
    sawing = sawn_along(() if _follows(room, values) else lines, layout.plan, room.min_piece)
    folded = replace(
        layout,
        cuts=total([Sawing(layout.cuts, 0.0), sawing]).cuts,
        cut_length_m=layout.cut_length_m + sawing.length / 1e3,
    )
    findings = (*_findings(room, lines, sawing, values), *_hidden(parts, values))
    return FoldsTake(lines, folded, Step(findings=findings))


def _laid(room: Room, shape: FloorShape, folds: Iterable[LineString]) -> tuple[Line, ...]:
    """Folds as far as tile lies along them [mm in the room]."""
    drains = zip(room.obstructions, shape.obstructions, strict=True)
    ground = shape.field.difference(union_all([hole for drain, hole in drains if drain.kind == "drain"]))
    return tuple(line for fold in folds for line in _on(ground, fold))


def _point_folds(parts: Sequence[Catchment]) -> Iterator[LineString]:
    for part in parts:
        yield from (LineString([part.drain, corner]) for corner, seen in _sights(part) if seen)
    for one, other in combinations(parts, 2):
        ridge = one.ground.intersection(other.ground)
        yield from (line for line in getattr(ridge, "geoms", [ridge]) if isinstance(line, LineString))


def _linear_fold(room: Room, shape: FloorShape) -> Iterator[LineString]:
    line = drain_line(room, shape)
    least = LEAST_SIDE_MM * LineString(line).intersection(shape.polygon).length
    if all(side.area > least for side in sides_of_line(shape.polygon, line)):
        yield LineString(line)


def _sights(part: Catchment) -> Iterator[tuple[Point, bool]]:
    """The corners of a catchment, and whether its drain sees them."""
    ground = part.ground.buffer(NEAR, join_style="mitre")
    prepare(ground)
    yield from ((corner, bool(ground.covers(LineString([part.drain, corner])))) for corner in part.corners)


def _on(ground: BaseGeometry, fold: LineString) -> Iterator[Line]:
    laid = fold.intersection(ground)
    for piece in getattr(laid, "geoms", [laid]):
        if piece.length > LEAST_SIDE_MM:
            (x0, y0), (x1, y1) = piece.coords[0], piece.coords[-1]
            yield (x0, y0), (x1, y1)


def _follows(room: Room, values: TradeValues) -> bool:
    """Whether the tile is small enough to lie on planes that meet."""
    return max(tile.longest_edge for tile in room.tiles) <= values.number("falls.cone_edge")


def _findings(room: Room, lines: Sequence[Line], sawing: Sawing, values: TradeValues) -> Iterator[Finding]:
    source, edge = values.citation("falls.cone_edge"), values.number("falls.cone_edge")
    metres = fsum(dist(*line) for line in lines) / 1e3
    if lines and _follows(room, values):
        said = f"Tile with edges up to {edge:g} mm follows the falls: no cuts along {metres:.2f} m of folds."
        yield Finding("folds", "pass", said, source)
    elif lines:
        count = sawing.cuts.straight + sawing.cuts.diagonal
        said = say(
            "Tile with an edge over {edge:g mm} cannot follow the falls: it is cut along {length:.2f m} of "
            "folds, {count} cuts. {instead}",
            edge=edge,
            length=metres,
            count=count,
            instead=_instead(room),
        )
        yield Finding("folds", "condition", said, source)


def _instead(room: Room) -> Sentence:
    if room.falls == "point":
        return say("Smaller tile needs none of them, nor does a linear drain along a wall.")
    return say("Smaller tile needs none of them.")


def folded(findings: Iterable[Finding]) -> bool:
    """Whether these findings of a room say that tile is cut along its folds."""
    return any(finding.rule == "folds" and finding.verdict == "condition" for finding in findings)


def _hidden(parts: Sequence[Catchment], values: TradeValues) -> Iterator[Finding]:
    corners = sum(not seen for part in parts for _, seen in _sights(part))
    if corners:
        said = say(
            "{corners} corners of the floor are out of sight of the drain: they want a drain of their own.",
            corners=corners,
        )
        source = values.citation("falls.sight")
        yield Finding("folds_hidden", "condition", said, source, "further_drain")
