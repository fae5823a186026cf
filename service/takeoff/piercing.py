"""Pipes and drains that come up through laid tile, and the cuts that they ask for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from service.takeoff.cuts import Sawing, Side, pierced, sides_of
from service.takeoff.geometry import FloorShape
from service.takeoff.lattice import Repeat, Turn
from service.takeoff.laying import LaidTiles
from service.takeoff.rings import TOLERANCE, polygons
from service.takeoff.room import ObstructionKind, Point, Room
from service.takeoff.sweep import Floats, corners_at, segments_of, sweep

PIERCING: frozenset[ObstructionKind] = frozenset({"pipe", "drain"})


@dataclass(frozen=True)
class Opening:
    """What comes up through the tile, in the tile's axes."""

    outline: Polygon
    round: bool

    @cached_property
    def segments(self) -> Floats:
        return segments_of(self.outline)


@dataclass(frozen=True, slots=True)
class Pierced:
    """A laid piece that something comes through: its position, its number among the cut pieces (None for
    a whole tile), what is left of it, and the cuts."""

    row: int
    column: int
    cut: int | None
    outline: Polygon
    sawing: Sawing


def openings_in(room: Room, shape: FloorShape, turn: Turn) -> tuple[Opening, ...]:
    """Pipes and drains of known size."""
    return tuple(
        Opening(turn.to_tile(outline), obstruction.centre is not None)
        for obstruction, outline in zip(room.obstructions, shape.obstructions, strict=True)
        if obstruction.kind in PIERCING and isinstance(outline, Polygon)
    )


def pierced_pieces(
    laid: LaidTiles, openings: Sequence[Opening], repeat: Repeat, origin: Point
) -> Iterator[Pierced]:
    """Every laid piece that an opening meets, once for each opening."""
    low = np.min(laid.tile, axis=0)
    for opening in openings:
        inside, edge = sweep(opening.segments, repeat, laid.tile, origin)
        met = inside.plus(edge)
        corners = (corners_at(met, repeat, origin) + low).tolist()
        places = zip(met.rows.tolist(), met.columns.tolist(), corners, strict=True)
        near = [piece for row, column, (x, y) in places for piece in _at(laid, row, column, (x, y))]
        yield from _through(near, opening)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A laid piece and the sides of the tile that it is of."""

    row: int
    column: int
    cut: int | None
    outline: Polygon
    sides: tuple[Side, ...]


def _at(laid: LaidTiles, row: int, column: int, corner: Point) -> Iterator[_Piece]:
    """The whole tile laid at a position, or what was cut from it."""
    sides = sides_of(laid.tile, corner)
    if bool(((laid.whole.rows == row) & (laid.whole.columns == column)).any()):
        yield _Piece(row, column, None, Polygon([start for start, _ in sides]), sides)
        return
    for i in np.flatnonzero((laid.cut.rows == row) & (laid.cut.columns == column)).tolist():
        yield _Piece(row, column, i, laid.outlines[i], sides)


def _through(near: Sequence[_Piece], opening: Opening) -> Iterator[Pierced]:
    """Those of some pieces that an opening comes through."""
    shared = shapely.intersection([piece.outline for piece in near], opening.outline)
    for i in np.flatnonzero(shapely.area(shared) > TOLERANCE * shapely.length(shared)).tolist():
        piece = near[i]
        left = polygons(piece.outline.difference(opening.outline))
        outline = left[0] if len(left) == 1 else piece.outline
        sawing = pierced(piece.outline, piece.sides, opening.outline, opening.round)
        yield Pierced(piece.row, piece.column, piece.cut, outline, sawing)
