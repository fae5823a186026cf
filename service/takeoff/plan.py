"""The laid floor as something to draw: lattice, runs of whole tiles, cut pieces in room coordinates."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from string import ascii_lowercase

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from service.takeoff.answer import CutPiece, Cuts, Lattice, Plan, RowRun
from service.takeoff.lattice import Repeat, Turn
from service.takeoff.laying import LaidTiles
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
        cut=tuple(_cut_pieces(drawn, turn)),
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


def _cut_pieces(drawn: Sequence[Drawn], turn: Turn) -> Iterator[CutPiece]:
    """Pieces by course and column; several pieces of one position get letters."""
    seen: dict[tuple[int, int, int], int] = {}
    for piece in sorted(drawn, key=lambda each: (each.place, each.outline.bounds)):
        count = seen[piece.place] = seen.get(piece.place, -1) + 1
        outer, *inner = _rings(turn.to_room(piece.outline))
        yield CutPiece(
            f"{_name(piece)}{_letters(count)}",
            piece.row,
            piece.column,
            outer,
            tuple(inner),
            piece.cuts,
            piece.tile,
        )


def _name(piece: Drawn) -> str:
    return f"{piece.row}/{piece.column}" + (f"/{piece.tile}" if piece.tile else "")


def _letters(count: int) -> str:
    """Nothing for the first piece, then b, c ... z, 26, 27 ..."""
    return "" if count == 0 else ascii_lowercase[count] if count < len(ascii_lowercase) else f"-{count}"


def _rings(polygon: Polygon) -> tuple[Ring, ...]:
    return tuple(
        tuple((float(x), float(y)) for x, y in ring.coords[:-1])
        for ring in (polygon.exterior, *polygon.interiors)
    )
