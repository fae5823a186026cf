"""The assignment model on the options that matter: those that its linear relaxation leaves within reach.

A basket with an option costs at least what the relaxation does and the option's reduced cost (Dantzig 1963;
reduced cost fixing). So the model is solved on options of small reduced cost first, then on those that could
be in a basket cheaper than the one found, which mostly is no more of them; work is counted, not timed.
"""

from __future__ import annotations

from math import floor, inf

from service.pricing.basket.assign import Relaxed, assign, relaxation
from service.pricing.basket.problem import Problem
from service.pricing.basket.ranking import Choice, TwoBest

FIRST_WIDTH = 0.0005
"""Of what the relaxation costs: options of no more reduced cost are looked at first."""
MOST_STEPS = 500
"""Steps of the simplex method after which nothing wider is begun: a few tenths of a second."""


class Core:
    """The model of one problem, asked for the best basket and then for the best unlike that one."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._relaxed = relaxation(problem) if all(problem.lots) else None
        self._steps = 0

    def least(self, found: TwoBest, unlike: Choice | None = None) -> float | None:
        """What no basket is judged below, but the one that it is to be `unlike`; None where there is none.

        Baskets met on the way are offered.
        """
        if self._relaxed is None:
            return None
        if self._steps > MOST_STEPS:
            return floor(self._relaxed.least - self._relaxed.slack)
        width = FIRST_WIDTH * self._relaxed.least
        while True:
            least, outside = self._within(self._relaxed, width, found, unlike)
            sought = _judged(found, unlike)
            if width == inf or sought <= outside or (self._steps > MOST_STEPS and sought < inf):
                return least if width == inf else min(outside, inf if least is None else least)
            width = sought - self._relaxed.least + self._relaxed.slack + 1  # then `outside` is `sought`

    def _within(
        self, relaxed: Relaxed, width: float, found: TwoBest, unlike: Choice | None
    ) -> tuple[int | None, float]:
        """The bounds of the options looked at, and of those left out."""
        proposed = assign(relaxed.within(self._problem, width), unlike)
        self._steps += proposed.steps
        if proposed.choice:
            found.offer(proposed.choice)
        return proposed.least, inf if width == inf else floor(relaxed.least + width - relaxed.slack)


def _judged(found: TwoBest, unlike: Choice | None) -> float:
    """What the basket sought is judged at so far."""
    known = found.best if unlike is None else found.second
    return inf if known is None else known.judged
