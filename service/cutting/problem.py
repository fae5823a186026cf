"""The cutting problem in whole numbers, as every step of the search sees it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

Counts = tuple[int, ...]
"""How many pieces of each kind, in the order of the problem's sizes."""

Stick = tuple[int, Counts]
"""One stick: the index of its stock and the pieces cut from it."""


@dataclass(frozen=True)
class Problem:
    """Sizes fall strictly and have the kerf added, as have capacities: k pieces then need k - 1 cuts if they
    end flush and k if they do not. Sizes and capacities in hundredths of a millimetre; costs in a unit of
    which every cost is a whole multiple; a limit of None is a stock without end."""

    sizes: tuple[int, ...]
    counts: Counts
    capacities: tuple[int, ...]
    costs: tuple[int, ...]
    limits: tuple[int | None, ...]

    def cost(self, sticks: Iterable[Stick]) -> int:
        return sum(self.costs[stock] for stock, _ in sticks)

    def used(self, pieces: Counts) -> int:
        return sum(size * count for size, count in zip(self.sizes, pieces, strict=True))

    def most(self, capacity: int) -> Counts:
        """Most pieces of each kind that one stick can give and the order can use."""
        return tuple(
            min(count, capacity // size) for size, count in zip(self.sizes, self.counts, strict=True)
        )

    def rest(self, sticks: Sequence[Stick]) -> Problem:
        """What is left to cut, and the stock left for it, after `sticks`."""
        limits = list(self.limits)
        for stock, _ in sticks:
            limit = limits[stock]
            limits[stock] = None if limit is None else limit - 1
        return replace(self, counts=_missing(self.counts, sticks), limits=tuple(limits))

    def covers(self, sticks: Sequence[Stick]) -> bool:
        """Whether no piece is missing, no stick overfull and no stock overdrawn."""
        rest = self.rest(sticks)
        within = all(self.used(pieces) <= self.capacities[stock] for stock, pieces in sticks)
        return within and not any(rest.counts) and all(limit is None or limit >= 0 for limit in rest.limits)


@dataclass(frozen=True)
class Partings:
    """Runs longer than a stick: how many of each there are, the ways to part them, each with its run and the
    kinds and numbers of its pieces, and the pieces `fixed` beside them."""

    runs: tuple[int, ...]
    ways: tuple[tuple[int, tuple[tuple[int, int], ...]], ...]
    fixed: Counts


def dearest(problem: Problem) -> int:
    """No plan without needless sticks costs more: one of the dearest for each piece."""
    return max(problem.costs) * sum(problem.counts)


def _missing(counts: Counts, sticks: Iterable[Stick]) -> Counts:
    missing = list(counts)
    for _, pieces in sticks:
        for kind, count in enumerate(pieces):
            missing[kind] -= count
    return tuple(max(0, count) for count in missing)


def settle(problem: Problem, sticks: Iterable[Stick]) -> list[Stick]:
    """Surplus pieces left out, empty sticks dropped, each stick moved to the cheapest stock that holds it."""
    trimmed = list(_trim(problem.counts, sticks))
    free = list(problem.rest(trimmed).limits)
    return [_cheapest(problem, stick, free) for stick in trimmed]


def _trim(counts: Counts, sticks: Iterable[Stick]) -> Iterator[Stick]:
    left = counts
    for stock, pieces in sticks:
        taken = tuple(map(min, pieces, left))
        left = tuple(a - b for a, b in zip(left, taken, strict=True))
        if any(taken):
            yield stock, taken


def _cheapest(problem: Problem, stick: Stick, free: list[int | None]) -> Stick:
    """The stick from the cheapest stock still there; `free` is kept up to date."""
    stock, pieces = stick
    used = problem.used(pieces)
    holding = (s for s, capacity in enumerate(problem.capacities) if capacity >= used and free[s] != 0)
    best = min(holding, key=lambda s: (problem.costs[s], problem.capacities[s]), default=stock)
    if problem.costs[best] >= problem.costs[stock]:
        return stick
    _count(free, stock, 1)
    _count(free, best, -1)
    return best, pieces


def _count(free: list[int | None], stock: int, change: int) -> None:
    limit = free[stock]
    free[stock] = None if limit is None else limit + change
