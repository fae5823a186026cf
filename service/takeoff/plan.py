"""The laid floor as something to draw: lattice, runs of whole tiles, cut pieces in room coordinates."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from service.takeoff.answer import CutPiece, Cuts, Lattice, Plan, RowRun
from service.takeoff.lattice import Repeat, Turn
from service.takeoff.laying import LaidTiles
from service.takeoff.placed import cell_corners, to_tile_axes
from service.takeoff.room import Point, Ring
from service.takeoff.sweep import Floats

_MOST_LEAN = 30.0
"""Courses that lean by more are read level, not along themselves [degrees]."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A piece to draw, in the tile's axes; `tile` is its number in the cell."""

    tile: int
    row: int
    column: int
    outline: Polygon
    cuts: Cuts

    @property
    def place(self) -> tuple[int, int, int]:
        return (self.row, self.column, self.tile)


def lattice_of(repeat: Repeat, origin: Point, rotation: float) -> Lattice:
    """The repeat as the plan keeps it."""
    x, y = zip(*repeat.tiles[0], strict=True)
    return Lattice(
        origin=origin,
        tile_length_mm=max(x) - min(x),
        tile_width_mm=max(y) - min(y),
        pitch_x_mm=repeat.step_x,
        pitch_y_mm=repeat.step_y,
        row_shift_mm=repeat.shift,
        rotation_deg=rotation,
        column_rise_mm=repeat.rise,
        tiles=repeat.tiles,
    )


def plan_of(
    lattice: Lattice,
    field: Polygon | MultiPolygon,
    laid: Sequence[LaidTiles],
    drawn: Sequence[Drawn],
    turn: Turn,
) -> Plan:
    """The plan; a whole tile that something comes through is among `drawn` and in no run."""
    apart = {piece.place for piece in drawn}
    return Plan(
        lattice=lattice,
        field=tuple(_rings(part) for part in shapely.get_parts(field)),
        whole=tuple(run for tile, each in enumerate(laid) for run in _runs(each, tile, apart)),
        cut=tuple(_cut_pieces(drawn, lattice, turn)),
    )


def _runs(laid: LaidTiles, tile: int, apart: set[tuple[int, int, int]]) -> Iterator[RowRun]:
    order = np.lexsort((laid.whole.columns, laid.whole.rows))
    places = zip(laid.whole.rows[order].tolist(), laid.whole.columns[order].tolist(), strict=True)
    run: RowRun | None = None
    for row, column in places:
        if (row, column, tile) in apart:
            continue
        if run and (run.row, run.last + 1) == (row, column):
            run = RowRun(row, run.first, column, tile)
            continue
        if run:
            yield run
        run = RowRun(row, column, column, tile)
    if run:
        yield run


def _cut_pieces(drawn: Sequence[Drawn], lattice: Lattice, turn: Turn) -> Iterator[CutPiece]:
    """Pieces numbered from 1 as one reads: the top course first, from left to right."""
    placed = [turn.to_room(piece.outline) for piece in drawn]
    places = _reading_places(lattice, drawn, placed)
    order = sorted(range(len(drawn)), key=lambda i: (*places[i], -placed[i].bounds[3], placed[i].bounds))
    for number, i in enumerate(order, 1):
        piece, (outer, *inner) = drawn[i], _rings(placed[i])
        yield CutPiece(str(number), piece.row, piece.column, outer, tuple(inner), piece.cuts, piece.tile)


def _reading_places(
    lattice: Lattice, drawn: Sequence[Drawn], placed: Sequence[Polygon]
) -> list[tuple[int, float]]:
    """Of each piece its course from above and its place along it.

    Where tile lies in courses, the middle of the whole tile says in which; elsewhere the piece's own middle,
    in bands as high as a tile from the highest down.
    """
    if not drawn:
        return []
    lean = math.remainder(lattice.rotation_deg, 90)
    if len(lattice.tiles) > 1 or abs(lean) > _MOST_LEAN:
        middles = shapely.get_coordinates(shapely.centroid(list(placed)))
        top, height = max(piece.bounds[3] for piece in placed), lattice.tile_width_mm
        courses = np.floor((top - middles[:, 1]) / height)
    else:
        middles = to_tile_axes(replace(lattice, rotation_deg=lean), _tile_middles(lattice, drawn))
        courses = np.round(-middles[:, 1] / _course_height(lattice))
    return list(zip(courses.astype(int).tolist(), middles[:, 0].round(3).tolist(), strict=True))


def _tile_middles(lattice: Lattice, drawn: Sequence[Drawn]) -> Floats:
    """The middles of the pieces' tiles, from that of the tile at the lattice's origin [mm]."""
    rows, columns, _ = np.array([piece.place for piece in drawn]).T
    return np.asarray(cell_corners(lattice, rows, columns) - lattice.origin)


def _course_height(lattice: Lattice) -> float:
    quarters = round(lattice.rotation_deg / 90)
    return lattice.pitch_x_mm if quarters % 2 else lattice.pitch_y_mm


def _rings(polygon: Polygon) -> tuple[Ring, ...]:
    return tuple(
        tuple((float(x), float(y)) for x, y in ring.coords[:-1])
        for ring in (polygon.exterior, *polygon.interiors)
    )
