"""First-fit and best-fit decreasing (D. S. Johnson, 1973), for one stock or several.

And stick by stick the longest piece left with others beside it: as full as can be (Gupta and Ho, Production
Planning & Control 10, 1999), or with the longest that waste no more than the stick's share of what a plan as
cheap as the bound may waste, so that short pieces are left for the last sticks (the thought of K. Fleszar and
C. Charalambous, European Journal of Operational Research 210, 2011).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from functools import partial
from itertools import count, product

from service.cutting.bounds import quick_bound
from service.cutting.effort import PLACE, VISIT, Effort
from service.cutting.filling import Filling, Left
from service.cutting.problem import Problem, Stick

MOST_VISITS = 300
"""Places looked at for one of the fullest sticks."""

SHARED_VISITS = 100
"""And for one that may waste its share."""

MOST_PACKINGS = 8
"""Plans handed back."""

SHARES = (1.0, 2.5, 0.6, 1.8, 0.3, 1.4, 2.2, 3.0)
"""Parts of its share that a stick may waste, tried in this order."""


def pack(problem: Problem, effort: Effort, bound: int | None = None) -> list[Stick] | None:
    """The cheapest of `packings`; None if none has stock enough, which does not say that there is no way."""
    return next(iter(packings(problem, effort, bound)), None)


def packings(problem: Problem, effort: Effort, bound: int | None = None) -> list[list[Stick]]:
    """First fit, best fit and filled sticks, each opening sticks of each stock first, as many of these ways
    as the effort allows and one at least, or until one costs no more than a `bound` that is known. The
    cheapest plans come first, and not too many."""
    least = quick_bound(problem) if bound is None else bound
    plans: list[tuple[int, list[_Open]]] = []
    best: int | None = None
    for target, way in _ways(problem, least):
        if best is not None and (effort.spent or best <= least):
            break
        if best is None or best > target:
            plan = way(effort)
            effort.spend(PLACE * sum(problem.counts))
            plans += [] if plan is None else [(sum(problem.costs[stick.stock] for stick in plan), plan)]
            best = min((cost for cost, _ in plans), default=None)
    plans.sort(key=lambda each: each[0])
    return [[each.stick(len(problem.sizes)) for each in plan] for _, plan in plans[:MOST_PACKINGS]]


def _ways(problem: Problem, bound: int) -> Iterator[tuple[int, Way]]:
    """Ways to pack, each with a cost below which it does not aim."""
    stocks = range(len(problem.capacities))
    for tightest in (False, True):
        yield from ((bound, partial(_decreasing, problem, s, tightest)) for s in stocks)
    yield from ((bound, partial(_filled, problem, s, 0.0, bound)) for s in stocks)
    if len(problem.sizes) > 1:
        best = min(stocks, key=lambda s: problem.costs[s] / problem.capacities[s])
        for share, target in product(SHARES, _targets(problem, bound)):
            yield target, partial(_filled, problem, best, share, target)


def _targets(problem: Problem, bound: int) -> list[int]:
    """The bound, and somewhat more, up to the cheapest stick."""
    stick = min((cost for cost in problem.costs if cost), default=1)
    return sorted({bound, *(bound + -(-stick // part) for part in (4, 2, 1))})


def cheapest(problem: Problem, plans: Iterable[list[Stick] | None]) -> list[Stick] | None:
    """The first of the cheapest plans."""
    return min((plan for plan in plans if plan is not None), key=problem.cost, default=None)


Way = Callable[[Effort], "list[_Open] | None"]


@dataclass
class _Open:
    """A stick being filled: its stock, the length left, and how many it holds of each kind."""

    stock: int
    room: int
    pieces: dict[int, int] = field(default_factory=dict)

    def take(self, kind: int, size: int, wanted: int) -> int:
        """Fills up with one kind; returns how many are still wanted."""
        taken = min(wanted, self.room // size)
        if taken:
            self.room -= taken * size
            self.pieces[kind] = self.pieces.get(kind, 0) + taken
        return wanted - taken

    def stick(self, kinds: int) -> Stick:
        pieces = [0] * kinds
        for kind, number in self.pieces.items():
            pieces[kind] = number
        return self.stock, tuple(pieces)


def _decreasing(problem: Problem, preferred: int, tightest: bool, _: Effort) -> list[_Open] | None:
    """Equal pieces go one after the other into the first stick (`tightest`: the fullest) that holds them."""
    sticks: list[_Open] = []
    stores = _Stores(problem, preferred)
    for kind, (size, wanted) in enumerate(zip(problem.sizes, problem.counts, strict=True)):
        if tightest:
            sticks.sort(key=lambda stick: stick.room)
        for stick in sticks:
            if stick.room >= size:
                wanted = stick.take(kind, size, wanted)
        while wanted:
            opened = stores.open(size)
            if opened is None:
                return None
            wanted = opened.take(kind, size, wanted)
            sticks.append(opened)
    return stores.exchanged(sticks)


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
            if problem.capacities[stock] >= size and self._left[stock] != 0:
                self._count(stock, -1)
                return _Open(stock, problem.capacities[stock])
        return None

    def exchanged(self, sticks: list[_Open]) -> list[_Open]:
        """Each stick of the cheapest stock still there that holds its pieces."""
        for stick in sticks if len(self._order) > 1 else ():
            self._exchange(stick)
        return sticks

    def _exchange(self, stick: _Open) -> None:
        capacities, costs = self._problem.capacities, self._problem.costs
        used = capacities[stick.stock] - stick.room
        holding = (s for s in self._order if capacities[s] >= used and self._left[s] != 0)
        best = min(holding, key=lambda s: (costs[s], capacities[s]), default=stick.stock)
        if costs[best] < costs[stick.stock]:
            self._count(stick.stock, 1)
            self._count(best, -1)
            stick.stock, stick.room = best, capacities[best] - used

    def _count(self, stock: int, change: int) -> None:
        left = self._left[stock]
        self._left[stock] = None if left is None else left + change


def _filled(
    problem: Problem, preferred: int, share: float, target: int, effort: Effort
) -> list[_Open] | None:
    """Stick by stick, the longest piece left and others beside it. A plan that costs the `target` may waste
    some length; of this a stick may waste so many times its `share`."""
    sticks: list[_Open] = []
    stores = _Stores(problem, preferred)
    waste = _Waste(problem, preferred, target, share)
    left = [Left(*each) for each in zip(count(), problem.sizes, problem.counts, strict=False) if each[2]]
    while left:
        opened = stores.open(left[0].size)
        if opened is None:
            return None
        stick, enough = opened.room, waste.enough(opened.room)
        _take(opened, left[0], 1)
        most = SHARED_VISITS if enough else MOST_VISITS
        filling = Filling(left, 1 if effort.spent else most, enough)
        for place, number in filling.best(opened.room):
            _take(opened, left[place], number)
        effort.spend(VISIT * filling.visits)
        waste.cut(stick, stick - opened.room)
        sticks.append(opened)
        left = [each for each in left if each.count]
    return stores.exchanged(sticks)


def _take(stick: _Open, left: Left, number: int) -> None:
    stick.take(left.kind, left.size, number)
    left.count -= number


class _Waste:
    """The length that can be had for what the plan may cost, and the length still to be cut."""

    def __init__(self, problem: Problem, preferred: int, target: int, share: float) -> None:
        self._length = target * problem.capacities[preferred] / (problem.costs[preferred] or 1)
        self._wanted = problem.used(problem.counts)
        self._share = share

    def enough(self, stick: int) -> int:
        """What a stick may waste."""
        free = max(0.0, 1 - self._wanted / self._length) if self._length > 0 else 0.0
        return int(self._share * free * stick)

    def cut(self, stick: int, used: int) -> None:
        self._length -= stick
        self._wanted -= used
