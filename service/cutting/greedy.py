"""First-fit and best-fit decreasing (D. S. Johnson, 1973), for one stock or several.

And each stick as full as can be (Gupta and Ho, Production Planning & Control 10, 1999).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from operator import add

from service.cutting.effort import PLACE, VISIT, Effort
from service.cutting.problem import Problem, Stick, settle

MOST_VISITS = 300
"""Places looked at for one of the fullest sticks."""


def pack(problem: Problem, effort: Effort) -> list[Stick] | None:
    """The cheapest of first fit, best fit and fullest sticks, each opening sticks of each stock first, as
    many of these ways as the effort allows and one at least; None if none has stock enough, which does not
    say that there is no way."""
    best: list[Stick] | None = None
    for way in _ways(problem):
        plan = way(effort)
        effort.spend(PLACE * len(problem.counts) * len(plan or ()))
        best = cheapest(problem, (best, plan))
        if best is not None and effort.spent:
            break
    return best


def _ways(problem: Problem) -> Iterator[Callable[[Effort], list[Stick] | None]]:
    stocks = range(len(problem.capacities))
    yield from (partial(_decreasing, problem, s, tightest) for tightest in (False, True) for s in stocks)
    yield from (partial(_fullest, problem, s) for s in stocks)


def cheapest(problem: Problem, plans: Iterable[list[Stick] | None]) -> list[Stick] | None:
    """The first of the cheapest plans."""
    return min((plan for plan in plans if plan is not None), key=problem.cost, default=None)


@dataclass
class _Open:
    stock: int
    room: int
    pieces: list[int]

    def take(self, kind: int, size: int, wanted: int) -> int:
        """Fills up with one kind; returns how many are still wanted."""
        taken = min(wanted, self.room // size)
        self.room -= taken * size
        self.pieces[kind] += taken
        return wanted - taken


def _decreasing(problem: Problem, preferred: int, tightest: bool, _: Effort) -> list[Stick] | None:
    """Equal pieces go one after the other into the first stick (`tightest`: the fullest) that holds them."""
    sticks: list[_Open] = []
    stores = _Stores(problem, preferred)
    for kind, (size, wanted) in enumerate(zip(problem.sizes, problem.counts, strict=True)):
        if tightest:
            sticks.sort(key=lambda stick: stick.room)
        for stick in sticks:
            wanted = stick.take(kind, size, wanted)
        while wanted:
            opened = stores.open(size)
            if opened is None:
                return None
            wanted = opened.take(kind, size, wanted)
            sticks.append(opened)
    return settle(problem, ((stick.stock, tuple(stick.pieces)) for stick in sticks))


class _Stores:
    """Gives sticks of the preferred stock while it lasts, then of the cheapest that holds the piece."""

    def __init__(self, problem: Problem, preferred: int) -> None:
        self._problem = problem
        self._left = list(problem.limits)
        stocks = range(len(problem.capacities))
        self._order = sorted(stocks, key=lambda s: (s != preferred, problem.costs[s], s))

    def open(self, size: int) -> _Open | None:
        problem = self._problem
        for stock in self._order:
            left = self._left[stock]
            if problem.capacities[stock] >= size and left != 0:
                self._left[stock] = None if left is None else left - 1
                return _Open(stock, problem.capacities[stock], [0] * len(problem.sizes))
        return None


def _fullest(problem: Problem, preferred: int, effort: Effort) -> list[Stick] | None:
    """Stick by stick, the longest piece left and beside it what leaves least of the stick."""
    sticks: list[Stick] = []
    stores = _Stores(problem, preferred)
    left = list(problem.counts)
    for kind, size in enumerate(problem.sizes):
        while left[kind]:
            opened = stores.open(size)
            if opened is None:
                return None
            opened.take(kind, size, 1)
            left[kind] -= 1
            filling = _Filling(problem.sizes, left, 1 if effort.spent else MOST_VISITS)
            beside = filling.best(kind, opened.room)
            effort.spend(VISIT * filling.visits)
            left = [a - b for a, b in zip(left, beside, strict=True)]
            sticks.append((opened.stock, tuple(map(add, opened.pieces, beside))))
    return settle(problem, sticks)


class _Filling:
    """Looks for the pieces that leave least room, the longest first and at so many places at most."""

    def __init__(self, sizes: Sequence[int], left: Sequence[int], most: int) -> None:
        self._most = most
        self._kinds = [(kind, sizes[kind], count) for kind, count in enumerate(left) if count]
        self._pieces = [0] * len(sizes)

    def best(self, first: int, room: int) -> list[int]:
        self._kinds = [kind for kind in self._kinds if kind[0] >= first]
        self._least, self._best, self.visits = room, list(self._pieces), 0
        self._fill(0, room)
        return self._best

    def _fill(self, place: int, room: int) -> None:
        self.visits += 1
        if room < self._least:
            self._least, self._best = room, list(self._pieces)
        for n in range(place, len(self._kinds)):
            kind, size, count = self._kinds[n]
            for taken in range(min(count, room // size), 0, -1):
                if self._least == 0 or self.visits >= self._most:
                    return
                self._pieces[kind] = taken
                self._fill(n + 1, room - taken * size)
            self._pieces[kind] = 0
