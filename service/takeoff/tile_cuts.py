"""Which pieces of the plan come from one tile, so that offcuts are kept for where they go."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from shapely import Polygon

from service.takeoff.answer import CutPiece, Plan, TileCut
from service.takeoff.laid_floor import LaidFloor
from service.takeoff.pieces import Mark, Needed

Position = tuple[int, int, int]
"""Row, column and number of a tile in the cell."""


def tiles_cut(floor: LaidFloor, plan: Plan) -> tuple[TileCut, ...]:
    """Every tile that is cut with the ids of its pieces in `plan`, numbered from 1; a whole tile that
    something comes through is one of them."""
    named = _Names(floor, plan)
    together = [
        (each, [named.of(each.order.marks[piece]) for piece in tile])
        for each in floor.needed
        for tile in each.cutting.tiles
    ]
    alone = [(floor.needed[0], ids) for ids in named.left()]
    return tuple(_tile_cut(number, *cut) for number, cut in enumerate((*together, *alone), 1))


def _tile_cut(number: int, needed: Needed, ids: list[str]) -> TileCut:
    return TileCut(number, needed.tile.length, needed.tile.width, tuple(ids))


class _Names:
    """The pieces of a plan by their place, each given away once."""

    def __init__(self, floor: LaidFloor, plan: Plan) -> None:
        self._floor = floor
        self._at: dict[Position, list[CutPiece]] = defaultdict(list)
        for piece in plan.cut:
            self._at[piece.row, piece.column, piece.tile].append(piece)

    def of(self, mark: Mark) -> str:
        """The id of a laid piece; of several cut from one position that which lies where it does."""
        number, i = mark
        laid = self._floor.tiles[number]
        here = self._at[int(laid.cut.rows[i]), int(laid.cut.columns[i]), number]
        if len(here) > 1:
            outline = self._floor.floor.ground.turn.to_room(laid.outlines[i])
            here.sort(key=lambda piece: Polygon(piece.outline).symmetric_difference(outline).area)
        return here.pop(0).id

    def left(self) -> Iterator[list[str]]:
        """Ids of the pieces that are left, position by position."""
        return ([piece.id for piece in pieces] for pieces in self._at.values() if pieces)
