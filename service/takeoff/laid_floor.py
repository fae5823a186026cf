"""A floor laid from one start, with what it takes: its pieces, their cuts, the tiles needed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from shapely import Polygon

from service.takeoff.answer import Cuts
from service.takeoff.cuts import total_cuts
from service.takeoff.geometry import FloorShape
from service.takeoff.lattice import Repeat, Turn, repeat_of
from service.takeoff.laying import Ground, LaidTiles, count_pieces, lay, narrowest_share
from service.takeoff.pieces import Needed, count_needed, needed_for
from service.takeoff.piercing import Opening, Pierced, openings_in, pierced_pieces
from service.takeoff.plan import Drawn
from service.takeoff.room import Point, Room
from service.takeoff.sawing import Sawings, sawings
from service.takeoff.sight import View, view_of


@dataclass(frozen=True)
class Floor:
    """A field to be laid with the room's tile in the pattern's axes."""

    room: Room
    ground: Ground
    repeat: Repeat
    openings: tuple[Opening, ...]
    view: View

    @classmethod
    def of(cls, room: Room, shape: FloorShape) -> Floor:
        """InputError where the tile cannot make the pattern or the focus does not exist."""
        turn = Turn(room.pattern.rotation)
        return cls(
            room,
            Ground.of(shape.field, turn),
            repeat_of(room),
            openings_in(room, shape, turn),
            view_of(room, shape, turn),
        )

    @property
    def directional(self) -> bool:
        """Whether offcuts may not be turned."""
        return any(tile.directional for tile in self.room.tiles)


@dataclass(frozen=True)
class LaidFloor:
    """`origin` is the low corner of the unit cell in the room [mm]."""

    floor: Floor
    origin: Point

    @cached_property
    def start(self) -> Point:
        """The origin in the tile's axes."""
        return self.floor.ground.turn.point_to_tile(self.origin)

    @cached_property
    def tiles(self) -> tuple[LaidTiles, ...]:
        """Of each tile of the cell."""
        floor = self.floor
        return lay(floor.ground, floor.repeat, self.start, floor.room.min_piece)

    @property
    def pieces(self) -> int:
        return count_pieces(self.tiles)

    @cached_property
    def needed(self) -> tuple[Needed, ...]:
        return needed_for(self.floor.ground, self.tiles, self.floor.room.saw, self.floor.directional)

    @cached_property
    def tiles_needed(self) -> int:
        kerf = self.floor.room.saw.kerf
        if all(each.takes_tiles_alone(kerf) for each in self.tiles):
            return self.pieces
        return count_needed(self.needed)

    @cached_property
    def narrowest_share(self) -> float:
        """Of a tile's side; 0 where a strip is left open that is wider than the joint."""
        return narrowest_share(self.tiles, self.floor.room.joint)

    @cached_property
    def sawings(self) -> tuple[Sawings, ...]:
        """Of the cut pieces of each tile of the cell, pipes and drains left out."""
        return tuple(sawings(each.outlines, each.tile, each.corners) for each in self.tiles)

    @cached_property
    def pierced(self) -> tuple[tuple[Pierced, ...], ...]:
        """Of each tile of the cell the pieces that a pipe or drain comes through."""
        floor = self.floor
        found = (pierced_pieces(each, floor.openings, floor.repeat, self.start) for each in self.tiles)
        return tuple(map(tuple, found))

    @property
    def cuts(self) -> Cuts:
        """All cuts, kind by kind."""
        counts = np.sum([each.counts.sum(axis=0) for each in self.sawings], axis=0)
        return total_cuts([Cuts(*counts.tolist()), *(each.sawing.cuts for each in self._holes)])

    @property
    def cut_length(self) -> float:
        """[mm]"""
        sawn = [length for each in self.sawings for length in each.lengths.tolist()]
        return math.fsum([*sawn, *(each.sawing.length for each in self._holes)])

    @property
    def _holes(self) -> Iterator[Pierced]:
        return (each for pierced in self.pierced for each in pierced)

    @property
    def whole_at_entrance(self) -> bool | None:
        return self.floor.view.whole_at_entrance(self.tiles)

    @property
    def cut_on_sight_line(self) -> int | None:
        return self.floor.view.cut_on_sight_line(self.tiles)

    def drawn(self) -> Iterator[Drawn]:
        """Every piece that is not a plain whole tile."""
        for number, laid in enumerate(self.tiles):
            through: dict[int | None, list[Pierced]] = defaultdict(list)
            for each in self.pierced[number]:
                through[each.cut].append(each)
            places = zip(laid.cut.rows.tolist(), laid.cut.columns.tolist(), strict=True)
            for i, (row, column) in enumerate(places):
                cuts, pierced = self.sawings[number].cuts(i), through.get(i, ())
                yield _drawn(number, row, column, laid.outlines[i], cuts, pierced)
            for row, column in sorted({(each.row, each.column) for each in through[None]}):
                here = [each for each in through[None] if (each.row, each.column) == (row, column)]
                yield _drawn(number, row, column, here[0].outline, Cuts(), here)


def _drawn(
    tile: int, row: int, column: int, outline: Polygon, cuts: Cuts, pierced: Sequence[Pierced]
) -> Drawn:
    if pierced:
        cuts, outline = total_cuts([cuts, *(each.sawing.cuts for each in pierced)]), pierced[0].outline
    return Drawn(tile, row, column, outline, cuts)
