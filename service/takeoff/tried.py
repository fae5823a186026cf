"""What the search for the best start asks of every start that it tries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from service.takeoff.rings import TOLERANCE
from service.takeoff.room import Point, Room
from service.takeoff.sweep import Floats, Ints

SHARES = (1 / 2, 1 / 3, 1 / 4, 1 / 8)
"""Steps of the narrowest piece as a share of its tile; half a tile is the usual rule (ANSI A108.02-4.3.2)."""
NEAR_SHARE = 1e-6


def step_of(share: float) -> int:
    """0 where no piece is narrower than half a tile, then 1 to 4 by the steps of SHARES."""
    return next((i for i, least in enumerate(SHARES) if share >= least - NEAR_SHARE), len(SHARES))


GAP = len(SHARES) + 1
"""The step of a floor where a strip is left open that the joint cannot take up."""


@dataclass(frozen=True)
class Wants:
    """What counts as a piece, a gap, and a piece that another can share its tile with [mm]."""

    min_piece: float
    joint: float
    kerf: float
    sawn_edges: bool

    @classmethod
    def of(cls, room: Room) -> Wants:
        return cls(room.min_piece, room.joint, room.saw.kerf, room.saw.sawn_edges_at_joints)

    def least(self, size: Sequence[float]) -> float:
        """The narrowest piece that is laid; of a mosaic the tile itself."""
        return min(self.min_piece, *size) - TOLERANCE

    def load(self, width: Floats, size: float) -> Floats:
        """How much of a tile's side a piece takes up: all where no second one comes from the same side.

        Each piece wants a factory side at the joint, so that at most two share a side of a tile.
        """
        shared = width / size if self.sawn_edges else 0.5
        return np.where(width > (size - self.kerf) / 2 + TOLERANCE, 1.0, shared)


@dataclass(frozen=True)
class Tried:
    """Starts [n, 2] and per start: the step of the narrowest piece (to GAP), the tiles that it takes as a
    first estimate, pieces, cuts, by how much of a tile pieces at opposite sides differ, and the share of
    courses that are cut at the entrance (0 where that was not counted)."""

    origins: Floats
    step: Ints
    tiles: Floats
    pieces: Floats
    cuts: Floats
    imbalance: Floats
    cut_at_entrance: Floats
    complete: bool = False  # whether no start between these can count otherwise

    def ranked(self) -> Ints:
        """Numbers of the starts in the order of the criteria, of equally good ones the first first."""
        return np.lexsort(self._criteria)

    def best(self, most: int) -> list[int]:
        """The best starts but for the first one: the best of each of the best counts, then more like them."""
        order = self.ranked()
        order = order[order > 0]
        rows = np.stack(self._criteria, axis=1)[order].astype(np.float64)
        other = [_changes(rows[:, columns]) for columns in (slice(2, None), slice(0, None))]
        chosen = [*order[other[0]][:most], *order[other[1] & ~other[0]]][:most]
        return [int(i) for i in chosen]

    @property
    def _criteria(self) -> tuple[Floats | Ints, ...]:
        """The last first."""
        looks = (self.cut_at_entrance, seen(self.imbalance))
        return (*looks, self.cuts, self.pieces, np.round(self.tiles, 3), self.step)

    def start(self, i: int) -> Point:
        return (float(self.origins[i, 0]), float(self.origins[i, 1]))


def joined(*tried: Tried) -> Tried:
    return Tried(
        np.concatenate([each.origins for each in tried]),
        np.concatenate([each.step for each in tried]),
        np.concatenate([each.tiles for each in tried]),
        np.concatenate([each.pieces for each in tried]),
        np.concatenate([each.cuts for each in tried]),
        np.concatenate([each.imbalance for each in tried]),
        np.concatenate([each.cut_at_entrance for each in tried]),
    )


def _changes(rows: Floats) -> npt.NDArray[np.bool_]:
    """Which rows are not like the one before."""
    return np.append(np.ones(min(len(rows), 1), np.bool_), (rows[1:] != rows[:-1]).any(axis=1))


def seen(imbalance: Floats | np.float64) -> Floats:
    """In hundredths of a tile: nobody sees less."""
    return np.asarray(np.round(imbalance, 2))
