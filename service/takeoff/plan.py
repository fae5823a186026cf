"""The laid floor as something to draw: lattice, runs of whole tiles, cut pieces in room coordinates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from service.takeoff.answer import CutPiece, Cuts, Lattice, Plan, RowRun
from service.takeoff.lattice import Repeat, Turn
from service.takeoff.laying import LaidTiles
from service.takeoff.placed import cell_corners, to_room_axes
from service.takeoff.room import Point, Ring


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
    placed = [(piece, turn.to_room(piece.outline)) for piece in drawn]
    ranks = _reading_order(lattice, drawn)
    order = sorted(range(len(drawn)), key=lambda i: (*ranks[i], placed[i][1].bounds))
    for number, i in enumerate(order, 1):
        piece, outline = placed[i]
        outer, *inner = _rings(outline)
        yield CutPiece(str(number), piece.row, piece.column, outer, tuple(inner), piece.cuts, piece.tile)


def _reading_order(lattice: Lattice, drawn: Sequence[Drawn]) -> list[tuple[int, float]]:
    """Of each piece's tile its course from above, counted by the height of a course, and its place in it.

    The middle of the whole tile counts, so that a piece cut low stands in the course that it belongs to.
    """
    if not drawn:
        return []
    middles = to_room_axes(lattice, np.array([np.mean(ring, axis=0) for ring in lattice.tiles]))
    rows, columns, tiles = np.array([piece.place for piece in drawn]).T
    x, y = (cell_corners(lattice, rows, columns) + middles[tiles]).T
    first = lattice.origin[1] + middles[0][1]
    courses = np.round((first - y) / _course_height(lattice)).astype(int)
    return list(zip(courses.tolist(), x.round(3).tolist(), strict=True))


def _course_height(lattice: Lattice) -> float:
    return lattice.pitch_y_mm if len(lattice.tiles) == 1 else lattice.tile_width_mm


def _rings(polygon: Polygon) -> tuple[Ring, ...]:
    return tuple(
        tuple((float(x), float(y)) for x, y in ring.coords[:-1])
        for ring in (polygon.exterior, *polygon.interiors)
    )
