"""Runs longer than a stick, parted where that is cheapest: the parting is chosen together with the cutting.

Each way to part a run is a column beside the patterns: it covers the run and wants its pieces. The bound of
the linear programme over all of them holds for any way with the fewest joints (see `parting`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement, islice, product
from math import ceil

from service.cutting.bounds import cover, payable
from service.cutting.effort import ENTRY, Effort
from service.cutting.greedy import cheapest, pack
from service.cutting.master import choose_parted
from service.cutting.parting import Pieces, Ways, fillings_of, ways_of
from service.cutting.problem import Counts, Partings, Problem
from service.cutting.relaxation import Relaxation, relax
from service.cutting.search import Outcome, search

MOST_CHOICES = 30
"""Choices of ways that are gone through one by one where the linear programme leaves a gap."""


@dataclass(frozen=True)
class Order:
    """What is cut: `problem` with the most pieces of each size that any parting wants, the pieces `fixed` by
    the order, and the runs [steps] with the number and the ways of each."""

    problem: Problem
    fixed: Counts
    runs: tuple[tuple[int, int, Ways], ...]
    kerf: int

    @property
    def lengths(self) -> list[int]:
        """The sizes without kerf."""
        return [size - self.kerf for size in self.problem.sizes]

    @property
    def decided(self) -> bool:
        """Whether each run has one way that is no dearer than any other."""
        return all(len(ways.bounding) == 1 and ways.bounding[0] in ways.built for *_, ways in self.runs)

    def parted(self, chosen: Sequence[Pieces]) -> Problem:
        """The problem with all runs parted so, one way for each single run."""
        wanted = Counter(piece for way in chosen for piece in way)
        pieces = zip(self.lengths, self.fixed, strict=True)
        return replace(self.problem, counts=tuple(count + wanted[length] for length, count in pieces))

    def plainest(self) -> Problem:
        return self.parted([ways.built[0] for _, count, ways in self.runs for _ in range(count)])

    def material(self) -> int:
        """The cost of sticks as long as all that is cut from them."""
        long = sum(run * count for run, count, _ in self.runs)
        pieces = sum(count * -(-run // self._longest) for run, count, _ in self.runs)
        used = self.problem.used(self.fixed) + long + pieces * self.kerf
        return cover(used, self.problem.capacities, self.problem)

    @property
    def _longest(self) -> int:
        return max(self.problem.capacities) - self.kerf

    def partings(self, *, built: bool) -> Partings:
        """The ways as columns: those to be built, or those for a bound."""
        kinds = {length: kind for kind, length in enumerate(self.lengths)}
        return Partings(
            tuple(count for _, count, _ in self.runs),
            tuple(
                (number, tuple((kinds[piece], times) for piece, times in Counter(way).items()))
                for number, (_, _, ways) in enumerate(self.runs)
                for way in (ways.built if built else ways.bounding)
            ),
            self.fixed,
        )

    def choices(self) -> Iterator[tuple[bool, Problem]]:
        """The bounding ways of all runs in every choice, and whether these can be built."""
        each = (combinations_with_replacement(ways.bounding, count) for _, count, ways in self.runs)
        for chosen in product(*each):
            real = zip(chosen, self.runs, strict=True)
            can = all(way in ways.built for some, (_, _, ways) in real for way in some)
            yield can, self.parted([way for some in chosen for way in some])


def order_of(
    known: Mapping[int, int], long: Mapping[int, int], sticks: Problem, kerf: int, least: int
) -> Order:
    """Lengths and runs [steps] with their numbers; of `sticks` only the stocks are looked at."""
    longest = max(sticks.capacities)
    fillings = fillings_of([length + kerf for length in known], longest - kerf, len(long))
    lengths = [capacity - kerf for capacity in sticks.capacities]
    runs = tuple((run, count, ways_of(run, lengths, least, fillings)) for run, count in long.items())
    most = Counter(known)
    for _, count, ways in runs:
        each = [Counter(way) for way in (*ways.built, *ways.bounding)]
        for piece in {piece for way in each for piece in way}:
            most[piece] += count * max(way[piece] for way in each)
    order = sorted(most, reverse=True)
    sizes, counts = tuple(piece + kerf for piece in order), tuple(most[piece] for piece in order)
    problem = replace(sticks, sizes=sizes, counts=counts)
    return Order(problem, tuple(known.get(piece, 0) for piece in order), runs, kerf)


def search_joined(
    order: Order, node_limit: int, effort: Effort | None = None, enough: int | None = None
) -> Outcome:
    """As `search`, for runs that may be parted in each of their ways."""
    effort = effort or Effort()
    plainest = order.plainest()
    part = effort.part(3)
    best = search(plainest, node_limit, part, enough)
    effort.give_back(part)
    if order.decided:
        return best
    best = replace(best, bound=order.material())
    bounded = all(ways.bounding for *_, ways in order.runs)
    if node_limit and best.open(plainest) and bounded:
        best = _chosen(order, _bounded(order, best, effort), node_limit, effort)
    return _one_by_one(order, best, node_limit, effort) if node_limit and bounded else best


def _bounded(order: Order, best: Outcome, effort: Effort) -> Outcome:
    part = effort.part(2)
    partings = order.partings(built=False)
    goal = best.goal(order.problem)
    dual = _relaxed(order, partings, best, part, goal).dual
    bound = dual.bound(order.problem, partings)
    effort.give_back(part)
    return replace(best, bound=max(best.bound, payable(ceil(bound), order.problem)))


def _relaxed(
    order: Order, partings: Partings, best: Outcome, effort: Effort, goal: int | None = None
) -> Relaxation:
    """The linear programme over patterns and partings."""
    start = pack(order.problem, effort) if best.sticks is None else best.sticks
    return relax(order.problem, start or (), effort, goal, partings)


def _chosen(order: Order, best: Outcome, node_limit: int, effort: Effort) -> Outcome:
    """Partings by whole-number choice among the patterns of the relaxation, then the cutting of them."""
    if not best.open(order.problem):
        return best
    part = effort.part(3)
    partings = order.partings(built=True)
    relaxed = _relaxed(order, partings, best, part)
    node = ENTRY * (1 + len(relaxed.columns) + len(partings.ways)) * len(order.problem.sizes)
    nodes = min(node_limit, max(0, part.left) // node)
    part.spend(nodes * node)
    effort.give_back(part)
    wanted = choose_parted(order.problem, relaxed.columns, partings, nodes) if nodes else None
    return best if wanted is None else _cut(replace(order.problem, counts=wanted), best, node_limit, effort)


def _cut(problem: Problem, best: Outcome, node_limit: int, effort: Effort) -> Outcome:
    """The better of what is known and the cutting of one parting; the bound stays."""
    part = effort.part(2)
    found = search(problem, node_limit, part, best.goal(problem))
    effort.give_back(part)
    return replace(best, sticks=cheapest(problem, (best.sticks, found.sticks)), method=found.method)


def _one_by_one(order: Order, best: Outcome, node_limit: int, effort: Effort) -> Outcome:
    """Each choice of ways searched for something cheaper, where there are few; all proven prove the best."""
    choices = list(islice(order.choices(), MOST_CHOICES + 1))
    if not best.open(order.problem) or len(choices) > MOST_CHOICES:
        return best
    least: list[int] = []
    for number, (can_be_built, problem) in enumerate(choices):
        part = effort.part(len(choices) - number)
        found = search(problem, node_limit, part, best.goal(problem))
        effort.give_back(part)
        least.append(found.bound)
        if can_be_built:
            best = replace(best, sticks=cheapest(problem, (best.sticks, found.sticks)))
    goal = best.goal(order.problem)
    proven = min(least if goal is None else [goal, *least])
    return replace(best, bound=max(best.bound, proven))
