"""All patterns that a cheaper plan could use."""

from __future__ import annotations

from collections.abc import Iterator

from service.cutting.effort import VISIT, Effort
from service.cutting.problem import Counts, Problem, Stick
from service.cutting.relaxation import Dual

MOST_PATTERNS = 2_000


class TooManyPatterns(Exception):
    """More patterns, or more places to look for them, than are gone through."""


def all_patterns(problem: Problem, dual: Dual, most: int, effort: Effort) -> list[Stick] | None:
    """Every full pattern that a plan costing at most `most` can contain; None if they are too many
    or the effort is spent.

    A plan costs the bound of `dual`, plus for each of its sticks what the stick costs over the worth of its
    pieces: a pattern that alone exceeds the difference is in no such plan. Full patterns are enough, since
    surplus pieces can be left out afterwards.
    """
    spare = int((most - dual.bound(problem)) * dual.scale)
    search = _Search(problem, dual, effort)
    try:
        return [stick for stock in range(len(problem.costs)) for stick in search.run(stock, spare)]
    except TooManyPatterns:
        return None


class _Search:
    """Goes through fillings, the densest piece first, and turns back where the rest cannot be enough."""

    def __init__(self, problem: Problem, dual: Dual, effort: Effort) -> None:
        self._problem, self._dual, self._effort = problem, dual, effort
        kinds = range(len(problem.sizes))
        self._order = sorted(kinds, key=lambda kind: -dual.pieces[kind] / problem.sizes[kind])
        self._found = 0

    def run(self, stock: int, spare: int) -> Iterator[Stick]:
        """Full patterns of one stock whose pieces are worth its cost less `spare`."""
        problem, dual = self._problem, self._dual
        need = problem.costs[stock] * dual.scale - dual.stocks[stock] - spare
        self._most = problem.most(problem.capacities[stock])
        self._pieces = [0] * len(problem.sizes)
        for pieces in self._fill(0, problem.capacities[stock], need):
            self._found += 1
            if self._found > MOST_PATTERNS:
                raise TooManyPatterns
            yield stock, pieces

    def _fill(self, place: int, room: int, need: int) -> Iterator[Counts]:
        self._effort.spend(VISIT)
        if self._effort.spent:
            raise TooManyPatterns
        if place == len(self._order):
            if need <= 0 and self._full(room):
                yield tuple(self._pieces)
            return
        kind = self._order[place]
        size, worth = self._problem.sizes[kind], self._dual.pieces[kind]
        if worth * room < need * size:
            return
        for count in range(min(self._most[kind], room // size), -1, -1):
            self._pieces[kind] = count
            yield from self._fill(place + 1, room - count * size, need - count * worth)

    def _full(self, room: int) -> bool:
        kinds = zip(self._problem.sizes, self._pieces, self._most, strict=True)
        return not any(size <= room and have < most for size, have, most in kinds)
