"""For every set of sellers the least that buying from exactly these can come to, and a basket close to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from service.pricing.basket.problem import Bill, Option, Problem, Seller, bill

MOST_SETS = 256
"""Sets of sellers that are looked at one by one; beyond, the model decides."""

Choice = tuple[Option, ...]
_Entry = tuple[int, int, Option]
"""An option with what it is judged at and its sellers as a mask."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A basket and what it is judged at."""

    judged: int
    choice: Choice


@dataclass(frozen=True, slots=True)
class SellerSet:
    """The cheapest option of each lot from a set of sellers and of one system.

    No basket from exactly these is judged at less than `least`, and none but this choice at less than that
    and `step` (None: there is no other).
    """

    sellers: int
    system: int | None
    choice: Choice
    options: int
    least: int
    step: int | None


@dataclass(frozen=True, slots=True)
class Outlook:
    """The best basket met, a bound on every basket, and the sets that were looked at."""

    best: Candidate | None
    least: int | None
    sets: tuple[SellerSet, ...]

    @property
    def decided(self) -> bool:
        """Whether no basket is judged at less than the best one met."""
        return self.best is not None and self.least is not None and self.best.judged <= self.least


def outlook(problem: Problem) -> Outlook:
    """Look at every set of sellers and every system; nothing is known where there are too many."""
    sets = sorted(_sets(problem), key=lambda one: one.least) if _countable(problem) else []
    best: Candidate | None = None
    for one in sets:
        if best and one.least >= best.judged:
            break
        best = better(best, judge(problem, one.choice))
    least = min(
        (best.judged if best and s.least >= best.judged else tight(problem, s) for s in sets), default=None
    )
    return Outlook(best, least, tuple(sets))


def judge(problem: Problem, choice: Choice) -> Candidate | None:
    """The choice as a basket; None where it breaks a limit."""
    told = bill(problem, choice)
    return Candidate(told.judged, choice) if isinstance(told, Bill) else None


def better(one: Candidate | None, other: Candidate | None) -> Candidate | None:
    """The first unless the other is judged at less."""
    return other if other and (one is None or other.judged < one.judged) else one


def _countable(problem: Problem) -> bool:
    return sum(1 for _ in _masks(problem, MOST_SETS + 1)) <= MOST_SETS


def _masks(problem: Problem, enough: int) -> Iterator[int]:
    """Sets of the sellers that have anything on offer, as masks; no more than `enough` of them."""
    selling = sorted({part.seller for lot in problem.lots for option in lot for part in option.parts})
    found = 0
    for size in range(1, min(len(selling), problem.most or len(selling)) + 1):
        for chosen in combinations(selling, size):
            if found == enough:
                return
            found += 1
            yield sum(1 << seller for seller in chosen)


def _sets(problem: Problem) -> Iterator[SellerSet]:
    most = _most_goods(problem)
    charges = [s.weight * s.charge(goods) for s, goods in zip(problem.sellers, most, strict=True)]
    closed = sum(1 << n for n, seller in enumerate(problem.sellers) if most[n] < seller.minimum)
    masks = [mask for mask in _masks(problem, MOST_SETS) if not mask & closed]
    for system in problem.systems:
        lots = _entries(problem, system)
        for mask in masks:
            one = _cheapest(lots, mask, system, sum(c for n, c in enumerate(charges) if mask >> n & 1))
            if one:
                yield one


def _entries(problem: Problem, system: int | None) -> list[list[_Entry]]:
    return [
        [(problem.judged(o), o.sellers, o) for o in lot if o.system is None or o.system == system]
        for lot in problem.lots
    ]


def _cheapest(
    lots: Sequence[Sequence[_Entry]], mask: int, system: int | None, charge: int
) -> SellerSet | None:
    """The first option of each lot from these sellers; None where a lot has none."""
    options, choice, step, outside = 0, [], None, ~mask
    for lot in lots:
        allowed = (entry for entry in lot if not entry[1] & outside)
        first, other = next(allowed, None), next(allowed, None)
        if first is None:
            return None
        options += first[0]
        choice.append(first[2])
        if other and (step is None or other[0] - first[0] < step):
            step = other[0] - first[0]
    return SellerSet(mask, system, tuple(choice), options, options + charge, step)


def _most_goods(problem: Problem) -> list[int]:
    """What each seller could sell at most: his order is delivered free, or taken at all, no later than so."""
    most = [0] * len(problem.sellers)
    for lot in problem.lots:
        for seller in range(len(most)):
            most[seller] += max((_from(option, seller) for option in lot), default=0)
    return most


def _from(option: Option, seller: int) -> int:
    return sum(part.goods for part in option.parts if part.seller == seller)


def tight(problem: Problem, one: SellerSet) -> int:
    """A closer bound on baskets from exactly these sellers: each must sell something and reach his minimum,
    and delivers free only where enough is taken from him instead of where it is cheapest.

    What one seller gains no other one does, so that these extras add up.
    """
    firsts = [problem.judged(option) for option in one.choice]
    lots = [[entry for entry in lot if not entry[1] & ~one.sellers] for lot in _entries(problem, one.system)]
    extras = 0
    for number, seller in enumerate(problem.sellers):
        if one.sellers >> number & 1:
            extra = _extra(number, seller, firsts, lots)
            if extra is None:
                return _NEVER
            extras += extra
    return max(one.least, one.options + extras)


def narrowed(problem: Problem, sets: Sequence[SellerSet], cutoff: int) -> Problem:
    """The problem with only such options as a basket judged at less than `cutoff` could take."""
    near = [s for s in sets if s.least < cutoff and tight(problem, s) < cutoff]
    spare = [
        (s, [cutoff - s.least + problem.judged(option) for option in s.choice]) for s in near
    ]  # an option judged at so much cannot be in a better basket from exactly these sellers

    def possible(place: int, option: Option) -> bool:
        judged, sellers = problem.judged(option), option.sellers
        return any(
            not sellers & ~s.sellers and option.system in (None, s.system) and judged < most[place]
            for s, most in spare
        )

    lots = (tuple(o for o in lot if possible(place, o)) for place, lot in enumerate(problem.lots))
    return problem._replace(lots=tuple(lots))


_NEVER = 1 << 62
"""The bound on baskets that there are none of."""


def _extra(
    number: int, seller: Seller, firsts: Sequence[int], lots: Sequence[Sequence[_Entry]]
) -> int | None:
    """What an order of this seller adds at least; None where there can be none."""
    gains = [
        (0 if len(option.parts) > 1 else judged - first, _from(option, number), place)
        for place, (first, lot) in enumerate(zip(firsts, lots, strict=True))
        for judged, sellers, option in lot
        if sellers >> number & 1
    ]
    if not gains:
        return None
    least = min(more for more, _, _ in gains)
    ways = []
    for goal, charge in _goals(seller):
        moved = _moved(gains, goal)
        if moved is not None:
            ways.append(seller.weight * charge + max(moved, least))
    return min(ways, default=None)


def _goals(seller: Seller) -> Iterator[tuple[int, int]]:
    """Goods to reach, and what the order is then charged."""
    yield seller.minimum, seller.carry_in + seller.delivery
    if seller.free_over is not None:
        yield max(seller.minimum, seller.free_over), seller.carry_in


def _moved(gains: Sequence[tuple[int, int, int]], goal: int) -> int | None:
    """What it costs at least to move goods to a seller up to `goal`, parts of a lot allowed."""
    rates: dict[int, tuple[float, int, int]] = {}
    most: dict[int, int] = {}
    for more, goods, place in gains:
        if goods:
            rates[place] = min(rates.get(place, (float("inf"), 0, 1)), (more / goods, more, goods))
            most[place] = max(most.get(place, 0), goods)
    cost = 0
    for place, (_, more, goods) in sorted(rates.items(), key=lambda rate: rate[1][0]):
        if goal <= 0:
            break
        cost += more * min(most[place], goal) // goods
        goal -= most[place]
    return cost if goal <= 0 else None
