"""The best basket that is not the winner, as far as bounds tell."""

from __future__ import annotations

from collections.abc import Sequence

from service.pricing.basket.bounds import Candidate, Choice, SellerSet, better, judge, tight
from service.pricing.basket.problem import Problem


def second(
    problem: Problem, every: Problem, winner: Choice, sets: Sequence[SellerSet]
) -> tuple[Candidate | None, bool]:
    """The best basket met besides the winner, and whether none stands between.

    `every` has all options of each lot: one that the winner's own leaves behind can only be second where
    nothing else is changed.
    """
    best = _swapped(every, winner)
    others = sorted((_least(one, winner), place) for place, one in enumerate(sets) if _differs(one, winner))
    for least, place in others:
        if best and least >= best.judged:
            break
        if sets[place].choice != winner:
            best = better(best, judge(problem, sets[place].choice))
    if best is None:
        return None, bool(sets) and not others
    near = [sets[place] for least, place in others if least < best.judged]
    return best, bool(sets) and all(_tight(problem, one, winner) >= best.judged for one in near)


def _differs(one: SellerSet, winner: Choice) -> bool:
    return one.choice != winner or one.step is not None


def _least(one: SellerSet, winner: Choice) -> int:
    return one.least + (one.step or 0 if one.choice == winner else 0)


def _tight(problem: Problem, one: SellerSet, winner: Choice) -> int:
    return max(_least(one, winner), tight(problem, one))


def _swapped(every: Problem, winner: Choice) -> Candidate | None:
    """The winner with the option of one lot changed: the best of all such baskets.

    A change saves at most all that the winner's orders are charged beside what they buy.
    """
    own = [every.judged(option) for option in winner]
    options = sum(own)
    changes = sorted(
        (every.judged(option) - own[place], place, number)
        for place, lot in enumerate(every.lots)
        for number, option in enumerate(lot)
        if option != winner[place]
    )
    best: Candidate | None = None
    for more, place, number in changes:
        if best and options + more >= best.judged:
            break
        swapped = (*winner[:place], every.lots[place][number], *winner[place + 1 :])
        best = better(best, judge(every, swapped))
    return best
