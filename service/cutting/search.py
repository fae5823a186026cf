"""From quick answers to proven ones: each step is taken only if the one before left a gap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain
from math import ceil, floor
from typing import Literal

from service.cutting.bounds import payable, quick_bound
from service.cutting.effort import ENTRY, ROOT, Effort
from service.cutting.greedy import cheapest, pack, packings
from service.cutting.learnt import Learnt
from service.cutting.master import Choice, choose
from service.cutting.patterns import all_patterns
from service.cutting.problem import Problem, Stick, dearest, settle
from service.cutting.relaxation import Relaxation, relax

Method = Literal["packed", "columns rounded", "generated patterns", "all patterns"]
"""What gave the plan or its proof: first or best fit; the relaxation, rounded; whole-number choice among the
patterns of the relaxation; whole-number choice among all patterns that a cheaper plan could use."""

PACKING = 3  # the part of the effort that packing may use up at most
PACKING_AGAIN = 16  # and where the same pieces were packed before

_WHOLE = 1e-6


@dataclass(frozen=True)
class Outcome:
    """Best plan so far (None: none yet), a proven bound in units of cost, and the step that gave them."""

    sticks: list[Stick] | None
    bound: int
    method: Method
    enough: int | None = None  # a cost known from elsewhere, which no plan as dear is wanted for

    def goal(self, problem: Problem) -> int | None:
        """What the bound must reach to end the search; None where there is no plan to compare with."""
        known = None if self.sticks is None else problem.cost(self.sticks)
        return min((cost for cost in (known, self.enough) if cost is not None), default=None)

    def better(self, problem: Problem) -> int:
        """What a plan that is wanted costs at most."""
        goal = self.goal(problem)
        return dearest(problem) if goal is None else goal - 1

    def open(self, problem: Problem) -> bool:
        return self.better(problem) >= self.bound


def search(
    problem: Problem,
    node_limit: int,
    effort: Effort | None = None,
    enough: int | None = None,
    learnt: Learnt | None = None,
) -> Outcome:
    """The best plan found with its bound; `sticks` is None if no plan was found in the limited stock, and
    then a bound above `dearest` proves that there is none. A `node_limit` of 0 keeps to packing. A search
    that has spent its `effort`, or whose bound reaches what is `enough`, ends there. It begins with what was
    `learnt` of the same pieces, and adds to it."""
    effort, learnt = effort or Effort(), learnt or Learnt()
    bound = max(quick_bound(problem), learnt.least(problem))
    part = effort.part(PACKING_AGAIN if learnt.anything else PACKING)
    plans = packings(problem, part, bound)
    effort.give_back(part)
    outcome = Outcome(next(iter(plans), None), bound, "packed", enough)
    if node_limit == 0 or not outcome.open(problem):
        return outcome
    start = chain(chain.from_iterable(plans), learnt.columns(problem))
    relaxed = relax(problem, start, effort, outcome.goal(problem))
    learnt.keep(problem, relaxed.columns)
    outcome = _rounded(problem, outcome, relaxed, effort)
    if len(problem.costs) > 1 and outcome.open(problem):
        bound = min(learnt.weigh(problem, relaxed, effort), outcome.better(problem) + 1)
        outcome = replace(outcome, bound=max(outcome.bound, bound))
    outcome = _relaxed_again(problem, outcome, relaxed, effort)
    return _whole(problem, outcome, relaxed, node_limit, effort) if outcome.open(problem) else outcome


def _rounded(problem: Problem, outcome: Outcome, relaxed: Relaxation, effort: Effort) -> Outcome:
    """The relaxation rounded down, the rest packed: with and without the columns next to whole first."""
    starts = (_near_whole(problem, relaxed, part) for part in (1.0, 0.0))
    best = cheapest(problem, (outcome.sticks, *(_completed(problem, start, effort) for start in starts)))
    bound = max(outcome.bound, payable(ceil(relaxed.dual.bound(problem)), problem))
    return replace(outcome, sticks=best, bound=bound, method="columns rounded")


def _relaxed_again(problem: Problem, outcome: Outcome, relaxed: Relaxation, effort: Effort) -> Outcome:
    """Columns half whole or more are cut, the rest packed, relaxed and so on until nothing is left."""
    fixed: list[Stick] = []
    rest = problem
    while outcome.open(problem) and any(rest.counts) and not effort.spent:
        near = _near_whole(rest, relaxed, 0.5)
        if not near:
            break
        fixed += near
        rest = rest.rest(near)
        plans = packings(rest, effort)
        whole = settle(problem, [*fixed, *plans[0]]) if plans else None
        outcome = replace(outcome, sticks=cheapest(problem, (outcome.sticks, whole)))
        if outcome.open(problem):
            relaxed = relax(rest, chain.from_iterable(plans), effort)
    return outcome


def _near_whole(problem: Problem, relaxed: Relaxation, part: float) -> list[Stick]:
    """Each column as often as it is wanted whole; then once more those wanted by at least `part` besides,
    the largest first, and the very largest if there is no other, as far as pieces are left for all of it."""
    cut = [(stick, x + _WHOLE) for stick, x in zip(relaxed.columns, relaxed.amounts, strict=True)]
    sticks = [stick for stick, x in cut for _ in range(floor(x))]
    rest = problem.rest(sticks)
    for stick, x in sorted(cut, key=lambda stick_x: -(stick_x[1] % 1.0)):
        wanted = x % 1.0 >= part or (part < 1.0 and not sticks)
        if wanted and x % 1.0 > 2 * _WHOLE and _fits(rest, stick):
            sticks.append(stick)
            rest = rest.rest([stick])
    return sticks


def _fits(problem: Problem, stick: Stick) -> bool:
    """Whether all pieces of the stick are still wanted, and the stick is still there."""
    stock, pieces = stick
    return problem.limits[stock] != 0 and all(a <= b for a, b in zip(pieces, problem.counts, strict=True))


def _completed(problem: Problem, sticks: list[Stick], effort: Effort) -> list[Stick] | None:
    rest = pack(problem.rest(sticks), effort)
    return None if rest is None else settle(problem, [*sticks, *rest])


def _whole(
    problem: Problem, outcome: Outcome, relaxed: Relaxation, node_limit: int, effort: Effort
) -> Outcome:
    """First among the relaxation's patterns, which brings the cost down and with it the number of patterns
    that could do better; then among all of those, and again while that brings it down further."""
    half = effort.part(2)
    outcome = _chosen(problem, outcome, relaxed.columns, _nodes(problem, relaxed.columns, node_limit, half))
    effort.give_back(half)
    if outcome.open(problem):
        relaxed = relax(problem, relaxed.columns, effort)
    while outcome.open(problem):
        half = effort.part(2)
        patterns = all_patterns(problem, relaxed.dual, outcome.better(problem), half)
        effort.give_back(half)
        nodes = _nodes(problem, patterns or (), node_limit, effort)
        if patterns is None or not nodes:
            break
        before, outcome = outcome, _proven(problem, outcome, patterns, nodes)
        if outcome.better(problem) == before.better(problem):
            break
    return outcome


def _nodes(problem: Problem, patterns: Sequence[Stick], most: int, effort: Effort) -> int:
    """Nodes for a choice among the patterns, as the effort allows; they are spent."""
    node = ENTRY * (1 + len(patterns)) * len(problem.counts)
    nodes = min(most, effort.left // node - ROOT)
    if nodes <= 0:
        return 0
    effort.spend((ROOT + nodes) * node)
    return nodes


def _chosen(problem: Problem, outcome: Outcome, patterns: Sequence[Stick], node_limit: int) -> Outcome:
    """A choice among some of the patterns: it may give a plan, never a bound."""
    if not node_limit:
        return outcome
    choice = choose(problem, patterns, outcome.sticks, outcome.bound, node_limit)
    return replace(outcome, sticks=_better(problem, outcome, choice), method="generated patterns")


def _proven(problem: Problem, outcome: Outcome, patterns: Sequence[Stick], node_limit: int) -> Outcome:
    """A choice among all patterns of any better plan: its bound holds for all."""
    choice = choose(problem, patterns, outcome.sticks, outcome.bound, node_limit)
    bound = min(choice.bound, outcome.better(problem) + 1)
    best = _better(problem, outcome, choice)
    return replace(outcome, sticks=best, bound=max(outcome.bound, bound), method="all patterns")


def _better(problem: Problem, outcome: Outcome, choice: Choice) -> list[Stick] | None:
    settled = None if choice.sticks is None else settle(problem, choice.sticks)
    return cheapest(problem, (outcome.sticks, settled))
