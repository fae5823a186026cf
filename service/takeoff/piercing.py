"""Pipes and drains that come up through laid tile, and the cuts that they ask for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from service.takeoff.cuts import Sawing, pierced, sides_of
from service.takeoff.geometry import FloorShape
from service.takeoff.lattice import Repeat, Turn
from service.takeoff.laying import LaidTiles
from service.takeoff.rings import TOLERANCE, polygons
from service.takeoff.room import ObstructionKind, Point, Room
from service.takeoff.sweep import corners_at, segments_of, sweep

PIERCING: frozenset[ObstructionKind] = frozenset({"pipe", "drain"})


@dataclass(frozen=True, slots=True)
class Opening:
    """What comes up through the tile, in the tile's axes."""

    outline: Polygon
    round: bool


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
        inside, edge = sweep(segments_of(opening.outline), repeat, laid.tile, origin)
        met = inside.plus(edge)
        corners = corners_at(met, repeat, origin) + low
        for row, column, (x, y) in zip(
            met.rows.tolist(), met.columns.tolist(), corners.tolist(), strict=True
        ):
            yield from _at(laid, opening, row, column, (x, y))


def _at(laid: LaidTiles, opening: Opening, row: int, column: int, corner: Point) -> Iterator[Pierced]:
    sides = sides_of(laid.tile, corner)
    whole = Polygon([start for start, _ in sides])
    is_whole = bool(((laid.whole.rows == row) & (laid.whole.columns == column)).any())
    cut = np.flatnonzero((laid.cut.rows == row) & (laid.cut.columns == column)).tolist()
    pieces = [(None, whole)] if is_whole else [(i, laid.outlines[i]) for i in cut]
    for number, piece in pieces:
        shared = piece.intersection(opening.outline)
        if shared.area > TOLERANCE * shared.length:
            left = polygons(piece.difference(opening.outline))
            outline = left[0] if len(left) == 1 else piece
            yield Pierced(row, column, number, outline, pierced(piece, sides, opening.outline, opening.round))
