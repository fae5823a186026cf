"""The best basket and the second best of a problem, with what is proven of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from service.pricing.basket.assign import Found, assign
from service.pricing.basket.bounds import Candidate, Choice, SellerSet, better, judge, narrowed, outlook
from service.pricing.basket.problem import Problem
from service.pricing.basket.reduce import reduced
from service.pricing.basket.second import second

Method = Literal["bound", "model", "model_limit"]


@dataclass(frozen=True, slots=True)
class Outcome:
    """The best choice, what it is judged at, and what no choice is judged below; the second best the same.

    Without a choice: `impossible` says whether there is none, or none was found.
    """

    choice: Choice | None
    judged: int
    least: int
    method: Method
    second: Candidate | None = None
    second_proven: bool = False
    impossible: bool = False


@lru_cache(maxsize=512)
def solve(every: Problem) -> Outcome:
    """A pure function of the problem: the same baskets are solved once."""
    problem = reduced(every)
    seen = outlook(problem)
    best, least = seen.best, seen.least or 0
    method: Method = "bound"
    if not seen.decided:
        found = _model(problem, seen.sets, best)
        if found.choice is None and found.least is None and best is None:
            return Outcome(None, 0, 0, "model", impossible=True)
        best = better(best, judge(problem, found.choice) if found.choice else None)
        least = max(found.least or 0, least)
        method = "model" if best and least >= best.judged else "model_limit"
    if best is None:
        return Outcome(None, 0, least, "model_limit")
    follower, proven = second(problem, every, best.choice, seen.sets)
    if not proven:
        follower, proven = _second(problem, best.choice, follower, seen.sets)
    return Outcome(best.choice, best.judged, min(least, best.judged), method, follower, proven)


def _model(
    problem: Problem, sets: Sequence[SellerSet], known: Candidate | None, unlike: Choice | None = None
) -> Found:
    """What the model finds besides a basket that is known, and the least that any is judged at.

    Where sets of sellers were looked at, only what could be better than the known one is modelled.
    """
    if known is None or not sets:
        return assign(problem, unlike)
    near = narrowed(problem, sets, known.judged)
    found = assign(near, unlike) if all(near.lots) else Found(None, None)
    least = known.judged if found.least is None else min(found.least, known.judged)
    return Found(found.choice, least)


def _second(
    problem: Problem, winner: Choice, known: Candidate | None, sets: Sequence[SellerSet]
) -> tuple[Candidate | None, bool]:
    """Solve again with the winner forbidden."""
    found = _model(problem, sets, known, unlike=winner)
    if found.choice is None and found.least is None:
        return known, True
    proposed = judge(problem, found.choice) if found.choice and found.choice != winner else None
    best = better(known, proposed)
    return best, best is not None and best.judged <= (found.least or 0)
