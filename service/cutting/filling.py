"""One stick filled with pieces beside the longest, looked for at so many places at most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Taken = tuple[int, int]
"""A place among the pieces left, and how many are taken of them."""


@dataclass
class Left:
    """Pieces of one kind still to be cut."""

    kind: int
    size: int
    count: int


class Filling:
    """Looks for pieces that leave no more than `enough` room, the longest first and at so many places at
    most; or those that leave least."""

    def __init__(self, left: Sequence[Left], most: int, enough: int) -> None:
        self._left, self._most, self._enough = left, most, enough
        self._taken: list[Taken] = []
        self._best: tuple[Taken, ...] = ()
        self.visits = 0

    def best(self, room: int) -> tuple[Taken, ...]:
        """Places among what is left, and how many are taken of each."""
        self._least = room
        self._fill(0, room)
        return self._best

    def _fill(self, place: int, room: int) -> None:
        self.visits += 1
        if room < self._least:
            self._least, self._best = room, tuple(self._taken)
        for n in range(place, len(self._left)):
            size, count = self._left[n].size, self._left[n].count
            if size > room:
                continue
            for taken in range(min(count, room // size), 0, -1):
                if self._least <= self._enough or self.visits >= self._most:
                    return
                self._taken.append((n, taken))
                self._fill(n + 1, room - taken * size)
                self._taken.pop()
