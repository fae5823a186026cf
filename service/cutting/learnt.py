"""What searches of the same pieces from the same lengths of stick, at other prices, tell each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from service.cutting.effort import Effort
from service.cutting.problem import Counts, Problem, Stick
from service.cutting.relaxation import Relaxation, weigh


@dataclass
class Learnt:
    """Fillings by the capacity of their stick, and what sticks of each capacity are worth at most; neither
    depends on what sticks cost or how many there are."""

    _fillings: dict[tuple[int, Counts], None] = field(default_factory=dict)
    _weights: list[tuple[int, Mapping[int, int]]] = field(default_factory=list)

    @property
    def anything(self) -> bool:
        return bool(self._fillings)

    def columns(self, problem: Problem) -> Iterator[Stick]:
        """Each filling in each stock of its capacity."""
        for capacity, pieces in list(self._fillings):
            for stock, own in enumerate(problem.capacities):
                if own == capacity:
                    yield stock, pieces

    def keep(self, problem: Problem, columns: Iterable[Stick]) -> None:
        self._fillings.update(((problem.capacities[stock], pieces), None) for stock, pieces in columns)

    def weigh(self, problem: Problem, relaxed: Relaxation, effort: Effort) -> int:
        """The bound of what sticks are worth at the relaxation's prices, which is kept for others."""
        weights = weigh(problem, relaxed, effort)
        worth: dict[int, int] = {}
        for capacity, value in zip(problem.capacities, weights.sticks, strict=True):
            worth[capacity] = min(value, worth.get(capacity, value))
        self._weights.append((weights.wanted, worth))
        return weights.bound(problem)

    def least(self, stocks: Problem) -> int:
        """What sticks cost at least that are worth all pieces, the last one taken in parts."""
        return max((_part(wanted, worth, stocks) for wanted, worth in self._weights), default=0)


def _part(wanted: int, worth: Mapping[int, int], stocks: Problem) -> int:
    if any(capacity not in worth for capacity in stocks.capacities):
        return 0
    offered = [
        (worth[capacity], cost, limit)
        for capacity, cost, limit in zip(stocks.capacities, stocks.costs, stocks.limits, strict=True)
    ]
    rest = wanted - sum(value * (limit or 0) for value, cost, limit in offered if not cost)
    rates = [Fraction(cost, value) for value, cost, limit in offered if cost and value]
    return max(0, ceil(rest * min(rates))) if rates else 0
