"""Rectangles sawn from tiles by through cuts, best fit, with the tile's factory sides kept in mind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from service.takeoff.rings import TOLERANCE

LEFT, BOTTOM, RIGHT, TOP = 1, 2, 4, 8
ALL_SIDES = LEFT | BOTTOM | RIGHT | TOP
_DIGITS = 4  # sizes are rounded to a tenth of the tolerance, so that equal rests are one kind


@dataclass(frozen=True, slots=True, order=True)
class Box:
    """A rectangle [mm] and its factory sides: those that a piece needs, or those that a rest has."""

    length: float
    width: float
    sides: int = ALL_SIDES

    @property
    def area(self) -> float:
        return self.length * self.width

    def turned(self) -> Box:
        """Turned by a quarter, anticlockwise: left becomes bottom."""
        return Box(self.width, self.length, (self.sides << 1 | self.sides >> 3) & ALL_SIDES)

    def mirrored(self, across: bool, up: bool) -> Box:
        """Seen in a mirror, so that every corner can be treated as the low one."""
        sides = self.sides
        if across:
            sides = sides & ~(LEFT | RIGHT) | (RIGHT if sides & LEFT else 0) | (LEFT if sides & RIGHT else 0)
        if up:
            sides = sides & ~(BOTTOM | TOP) | (TOP if sides & BOTTOM else 0) | (BOTTOM if sides & TOP else 0)
        return Box(self.length, self.width, sides)

    def rounded(self) -> Box:
        return Box(round(self.length, _DIGITS), round(self.width, _DIGITS), self.sides)


@dataclass(frozen=True, slots=True, order=True)
class Fit:
    """A way to cut a piece from a rest: what it spoils, the smaller first, and what is left."""

    spoiled: float
    smaller_gap: float
    rests: tuple[Box, ...]


class Cutter:
    """Tiles being cut: `tiles` are the numbers of the pieces from each, `rests` the offcuts by their tile."""

    def __init__(self, tile: Box, kerf: float, turnable: bool = True) -> None:
        self.tile, self.kerf, self.turnable = tile.rounded(), kerf, turnable
        self.tiles: list[list[int]] = []
        self.rests: dict[Box, list[int]] = {}

    def begin(self, pieces: Sequence[int], rests: Iterable[Box]) -> None:
        """A tile that pieces are cut from already, and what is left of it."""
        self.tiles.append(list(pieces))
        self._keep(rests, len(self.tiles) - 1)

    def cut_all(self, numbers: Iterable[int], piece: Box) -> None:
        """Cut pieces alike, each from the offcut that it fits best, from a new tile where it fits none."""
        piece = piece.rounded()
        for number in numbers:
            fits = [(fit, rest) for rest in self.rests if (fit := self._fit(piece, rest))]
            if fits:
                self._cut_from(*min(fits), number)
            else:
                new = self._fit(piece, self.tile)
                self.begin([number], new.rests if new else ())

    def _cut_from(self, fit: Fit, rest: Box, number: int) -> None:
        tile = self.rests[rest].pop()
        if not self.rests[rest]:
            del self.rests[rest]
        self.tiles[tile].append(number)
        self._keep(fit.rests, tile)

    def _fit(self, piece: Box, rest: Box) -> Fit | None:
        return best_fit(piece, rest, self.kerf, self.turnable)

    def _keep(self, rests: Iterable[Box], tile: int) -> None:
        for rest in rests:
            self.rests.setdefault(rest, []).append(tile)


@lru_cache(maxsize=65536)
def best_fit(piece: Box, rest: Box, kerf: float, turnable: bool = True) -> Fit | None:
    """The best of all turns, corners and ways to saw; None where the piece does not fit."""
    return min(_fits(piece, rest, kerf, 4 if turnable else 1), default=None)


def _fits(piece: Box, rest: Box, kerf: float, turns: int) -> Iterator[Fit]:
    way = piece
    for _ in range(turns):
        if way.length <= rest.length + TOLERANCE and way.width <= rest.width + TOLERANCE:
            for across, up in product((False, True), repeat=2):
                yield from _in_corner(way.mirrored(across, up), rest.mirrored(across, up), across, up, kerf)
        way = way.turned()


def _in_corner(piece: Box, rest: Box, across: bool, up: bool, kerf: float) -> Iterator[Fit]:
    """The piece in the low corner of the rest, if the factory sides that it needs are there."""
    over_x, over_y = rest.length - piece.length, rest.width - piece.width
    full_x, full_y = over_x <= TOLERANCE, over_y <= TOLERANCE
    there = LEFT | BOTTOM | (RIGHT if full_x else 0) | (TOP if full_y else 0)
    if piece.sides & ~(there & rest.sides):
        return
    for rests in _saw(piece, rest, over_x - kerf, over_y - kerf, (full_x, full_y)):
        kept = tuple(
            box.mirrored(across, up).rounded() for box in rests if min(box.length, box.width) > TOLERANCE
        )
        largest = max((box.area for box in kept), default=0.0)
        yield Fit(rest.area - piece.area - largest, min(over_x, over_y), kept)


def _saw(
    piece: Box, rest: Box, right: float, above: float, full: tuple[bool, bool]
) -> Iterator[tuple[Box, Box]]:
    """What is left at the right and above, sawn through upwards first or across first."""
    side_of_piece = LEFT | TOP | (RIGHT if full[0] else 0)
    end_of_piece = BOTTOM | RIGHT | (TOP if full[1] else 0)
    upright = Box(right, rest.width, rest.sides & (BOTTOM | RIGHT | TOP))
    yield upright, Box(piece.length, above, rest.sides & side_of_piece)
    level = Box(rest.length, above, rest.sides & (LEFT | RIGHT | TOP))
    yield level, Box(right, piece.width, rest.sides & end_of_piece)
