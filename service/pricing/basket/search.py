"""The best basket and the second best of a problem, with what is proven of each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from service.pricing.basket.assign import Found, assign
from service.pricing.basket.bounds import Candidate, Choice, Outlook, judge, outlook
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
        found = assign(problem)
        if found.choice is None and found.least is None:
            return Outcome(None, 0, 0, "model", impossible=True)
        best, least = _better(problem, seen, found)
        method = "model" if best and least >= best.judged else "model_limit"
    if best is None:
        return Outcome(None, 0, least, "model_limit")
    follower, proven = second(problem, every, best.choice, seen.sets)
    if not proven:
        follower, proven = _second(problem, best.choice, follower)
    return Outcome(best.choice, best.judged, min(least, best.judged), method, follower, proven)


def _better(problem: Problem, seen: Outlook, found: Found) -> tuple[Candidate | None, int]:
    """The better of what was seen and of the model's proposal, added up again; and the better bound."""
    proposed = judge(problem, found.choice) if found.choice else None
    met = [one for one in (proposed, seen.best) if one]
    least = max(found.least or 0, seen.least or 0)
    return min(met, key=lambda one: one.judged, default=None), least


def _second(problem: Problem, winner: Choice, known: Candidate | None) -> tuple[Candidate | None, bool]:
    """Solve again with the winner forbidden."""
    found = assign(problem, unlike=winner)
    if found.choice is None and found.least is None:
        return known, True
    proposed = judge(problem, found.choice) if found.choice else None
    met = [one for one in (known, proposed) if one and one.choice != winner]
    best = min(met, key=lambda one: one.judged, default=None)
    return best, best is not None and best.judged <= max(found.least or 0, 0)
