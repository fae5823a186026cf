"""For every set of sellers the least that buying from exactly these can come to, and a basket close to it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from service.pricing.basket.problem import Bill, Option, Problem, bill

MOST_SETS = 256
"""Sets of sellers that are looked at one by one; beyond, the model decides."""

Choice = tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A basket and what it is judged at."""

    judged: int
    choice: Choice


@dataclass(frozen=True, slots=True)
class _Set:
    """The cheapest options from a set of sellers, what buying from exactly these is judged at at least, and
    how much more another choice of options comes to at least (None: there is none)."""

    least: int
    choice: Choice
    step: int | None


@dataclass(frozen=True, slots=True)
class Outlook:
    """The best basket met, a bound on every basket, and the sets that were looked at."""

    best: Candidate | None
    least: int | None
    sets: tuple[_Set, ...]

    @property
    def decided(self) -> bool:
        """Whether no basket is judged at less than the best one met."""
        return self.best is not None and self.least is not None and self.best.judged <= self.least


def outlook(problem: Problem) -> Outlook:
    """Look at every set of sellers and every system; nothing is known where there are too many."""
    sets = tuple(_sets(problem)) if _countable(problem) else ()
    if not sets:
        return Outlook(None, None, ())
    best: Candidate | None = None
    for one in sorted(sets, key=lambda one: one.least):
        if best and one.least >= best.judged:
            break
        found = judge(problem, one.choice)
        best = found if found and (best is None or found.judged < best.judged) else best
    return Outlook(best, min(one.least for one in sets), sets)


def judge(problem: Problem, choice: Choice) -> Candidate | None:
    told = bill(problem, choice)
    return Candidate(told.judged, choice) if isinstance(told, Bill) else None


def second(
    problem: Problem, every: Problem, winner: Choice, sets: Sequence[_Set]
) -> tuple[Candidate | None, bool]:
    """The best basket met that is not the winner, and whether none stands between.

    `every` has all options of each lot: one that the winner's own leaves behind can only be second where
    nothing else is changed.
    """
    best = _swapped(every, winner)
    others = sorted((_apart(one, winner), place) for place, one in enumerate(sets) if _differs(one, winner))
    for least, place in others:
        if best and least >= best.judged:
            break
        choice = sets[place].choice
        found = judge(problem, choice) if choice != winner else None
        best = found if found and (best is None or found.judged < best.judged) else best
    proven = bool(sets) and (not others or (best is not None and best.judged <= others[0][0]))
    return best, proven


def _differs(one: _Set, winner: Choice) -> bool:
    return one.choice != winner or one.step is not None


def _apart(one: _Set, winner: Choice) -> int:
    return one.least + (one.step or 0 if one.choice == winner else 0)


def _swapped(every: Problem, winner: Choice) -> Candidate | None:
    """The winner with the option of one lot changed: the best of all such baskets.

    A change saves at most all that the winner's orders are charged beside what they buy.
    """
    own = [every.judged(option) for option in winner]
    saved = sum(own)
    changes = sorted(
        (every.judged(option) - own[place], place, number)
        for place, lot in enumerate(every.lots)
        for number, option in enumerate(lot)
        if option != winner[place]
    )
    best: Candidate | None = None
    for more, place, number in changes:
        if best and saved + more >= best.judged:
            break
        found = judge(every, (*winner[:place], every.lots[place][number], *winner[place + 1 :]))
        best = found if found and (best is None or found.judged < best.judged) else best
    return best


def _countable(problem: Problem) -> bool:
    return len(list(_masks(problem, MOST_SETS + 1))) <= MOST_SETS


def _masks(problem: Problem, enough: int = MOST_SETS) -> Iterator[int]:
    """Sets of the sellers that have anything on offer, as masks; no more than `enough` of them."""
    selling = {part.seller for lot in problem.lots for option in lot for part in option.parts}
    most = min(len(selling), problem.most or len(selling))
    found = 0
    for size in range(1, most + 1):
        for chosen in combinations(sorted(selling), size):
            if found == enough:
                return
            found += 1
            yield sum(1 << seller for seller in chosen)


def _sets(problem: Problem) -> Iterator[_Set]:
    most = _most_goods(problem)
    charges = [
        seller.weight * seller.charge(goods) for seller, goods in zip(problem.sellers, most, strict=True)
    ]
    closed = sum(1 << n for n, seller in enumerate(problem.sellers) if most[n] < seller.minimum)
    masks = [mask for mask in _masks(problem) if not mask & closed]
    for system in problem.systems:
        lots = [
            [(problem.judged(o), o.sellers, o) for o in lot if o.system in (None, system)]
            for lot in problem.lots
        ]
        for mask in masks:
            one = _cheapest(lots, mask)
            if one:
                charge = sum(charges[n] for n in range(len(charges)) if mask >> n & 1)
                yield _Set(one.least + charge, one.choice, one.step)


def _cheapest(lots: Iterable[Sequence[tuple[int, int, Option]]], mask: int) -> _Set | None:
    """The first option of each lot from these sellers; None where a lot has none."""
    least, choice, step, outside = 0, [], None, ~mask
    for lot in lots:
        allowed = (entry for entry in lot if not entry[1] & outside)
        first, other = next(allowed, None), next(allowed, None)
        if first is None:
            return None
        least += first[0]
        choice.append(first[2])
        if other and (step is None or other[0] - first[0] < step):
            step = other[0] - first[0]
    return _Set(least, tuple(choice), step)


def _most_goods(problem: Problem) -> list[int]:
    """What each seller could sell at most: his order is delivered free, or taken at all, no later than so."""
    most = [0] * len(problem.sellers)
    for lot in problem.lots:
        for seller in range(len(most)):
            most[seller] += max((_from(option, seller) for option in lot), default=0)
    return most


def _from(option: Option, seller: int) -> int:
    return sum(part.goods for part in option.parts if part.seller == seller)
