"""Baskets in the order of what they are judged at, the best two kept."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from service.pricing.basket.problem import Bill, Option, Problem, bill

Choice = tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A basket and what it is judged at."""

    judged: int
    choice: Choice


def judge(problem: Problem, choice: Choice) -> Candidate | None:
    """The choice as a basket; None where it breaks a limit."""
    told = bill(problem, choice)
    return Candidate(told.judged, choice) if isinstance(told, Bill) else None


class TwoBest:
    """The best two baskets of all that were offered; of two judged alike the first."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._kept: list[Candidate] = []

    @property
    def best(self) -> Candidate | None:
        return self._kept[0] if self._kept else None

    @property
    def second(self) -> Candidate | None:
        return self._kept[1] if len(self._kept) > 1 else None

    @property
    def cutoff(self) -> float:
        """A basket judged at less than this is one of the two."""
        return self._kept[1].judged if len(self._kept) > 1 else inf

    def offer(self, choice: Choice) -> None:
        candidate = judge(self._problem, choice)
        if candidate and all(choice != kept.choice for kept in self._kept):
            self._kept = sorted([*self._kept, candidate], key=lambda one: one.judged)[:2]


def offer_swapped(every: Problem, found: TwoBest) -> None:
    """Offer the best of all baskets that differ from the winner in one lot, of all the options that there
    are: one that another outdoes can be second in no other way.

    A change saves at most all that the winner's orders are charged beside what they buy.
    """
    if found.best is None:
        return
    winner = found.best.choice
    own = [every.judged(option) for option in winner]
    options = sum(own)
    changes = sorted(
        (every.judged(option) - own[place], place, number)
        for place, lot in enumerate(every.lots)
        for number, option in enumerate(lot)
        if option != winner[place]
    )
    for more, place, number in changes:
        if options + more >= found.cutoff:
            break
        found.offer((*winner[:place], every.lots[place][number], *winner[place + 1 :]))
