"""Sets of pieces that can come from one tile, and a quick way to share all pieces out among tiles."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import islice

import numpy as np

from service.takeoff.rings import TOLERANCE
from service.takeoff.sharing import Bools, Sharing

Pattern = tuple[int, ...]
"""Kinds that share a tile, in order, each as often as it is there."""

Placed = tuple[int, int]
"""A piece's number, and its place and turn: place * turns + turn."""


def patterns_of(sharing: Sharing, most: int) -> list[Pattern] | None:
    """All sets of pieces that can come from one tile and that no later piece can join; None where they are
    more than `most`."""
    found = list(islice(_Growth(sharing).patterns(), most + 1))
    return None if len(found) > most else list(dict.fromkeys(found))


class _Growth:
    """Sets of places that are clear of one another, grown place by place; the first is never turned, since
    the tile can be turned instead."""

    def __init__(self, sharing: Sharing) -> None:
        turns = sharing.near.shape[2]
        self._firsts = range(0, len(sharing.owner) * turns, turns)
        self._kind = np.repeat(sharing.owner, turns).tolist()
        self._count = [len(kind.members) for kind in sharing.kinds]
        self._area = [kind.area for kind in sharing.kinds]
        self._tile = sharing.tile.area * (1 + 1e-9) + TOLERANCE
        self._near = as_bits(sharing.near)

    def patterns(self) -> Iterator[Pattern]:
        for first in self._firsts:
            after = self._near[first] >> first << first
            yield from self._grown((self._kind[first],), after, self._tile - self._area[self._kind[first]])

    def _grown(self, kinds: Pattern, open_: int, free: float) -> Iterator[Pattern]:
        alone = True
        while open_:
            place = _lowest(open_)
            kind = self._kind[place]
            if self._area[kind] <= free and kinds.count(kind) < self._count[kind]:
                alone = False
                further = open_ & self._near[place]  # the place itself, if more can be moved into it
                yield from self._grown((*kinds, kind), further, free - self._area[kind])
            open_ &= open_ - 1
        if alone:
            yield tuple(sorted(kinds))


def packed(sharing: Sharing) -> list[list[Placed]]:
    """Tiles that hold all pieces, the largest kinds first, each piece in the first tile that has room."""
    turns, near = sharing.near.shape[2], as_bits(sharing.near)
    own: dict[int, int] = defaultdict(int)
    for place, kind in enumerate(sharing.owner.tolist()):
        own[kind] |= (1 << turns) - 1 << place * turns
    tiles: list[list[Placed]] = []
    free: list[int] = []
    for kind, places in own.items():
        at = 0
        for piece in sharing.kinds[kind].members:
            at = next((t for t in range(at, len(tiles)) if free[t] & places), len(tiles))
            if at == len(tiles):
                tiles.append([])
                free.append(-1)
            place = _lowest(free[at] & places)
            tiles[at].append((piece, place))
            free[at] &= near[place]
    return tiles


def _lowest(bits: int) -> int:
    return (bits & -bits).bit_length() - 1


def as_bits(near: Bools) -> list[int]:
    """Per place and turn the places and turns that are clear of it."""
    count, _, turns = near.shape
    turned = np.stack([np.roll(near, s, axis=2) for s in range(turns)], axis=1)
    packed_rows = np.packbits(turned.reshape(count * turns, count * turns), axis=1, bitorder="little")
    return [int.from_bytes(row.tobytes(), "little") for row in packed_rows]
