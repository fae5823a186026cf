"""The cheapest sticks or rolls, out of one supplier's pack sizes of one product, for lengths to be cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product
from math import ceil

from service.cutting.effort import MOST_EFFORT, Effort
from service.cutting.learnt import Learnt
from service.cutting.rolls import cut_strips
from service.cutting.runs import CutLengths
from service.cutting.stock import NODE_LIMIT, CuttingPlan, Demand, Stock, cut_joined, least_cost
from service.pricing.lengths import floored, least_by_length, length_of, total_length
from service.pricing.model import Cutting, Offer, PriceBreak
from service.pricing.one_length import of_one_length
from service.pricing.packs import Mix, goods_cost, pack_price

OF_SIZES = MOST_EFFORT * 3 // 4
"""Effort that several sizes and the choices of their price breaks share; one size has a whole search's."""

LATER = 2
"""Equal parts of what is left of it, of which each choice gets one."""

FEWER = (1, 2)
"""Packs of the size most bought that give way."""

Levels = tuple[PriceBreak, ...]
"""The price break at which each offer is bought."""


@dataclass(frozen=True, slots=True)
class _Tried:
    """What the packs cost that were found with some price breaks, and what these cost at least."""

    cost: Decimal
    bound: Decimal
    method: str
    counts: tuple[int, ...]

    @property
    def rank(self) -> tuple[Decimal, int]:
        return self.cost, sum(self.counts)


def cut_mix(lengths: CutLengths, offers: Sequence[Offer]) -> tuple[Mix, Cutting]:
    """The cheapest packs from which all runs can be cut.

    Runs of one length are counted. Else each size is tried alone first: its fewest packs are the cheapest at
    any price breaks. Then each choice of price breaks is a cutting problem of its own: the packs that a break
    asks for are paid and free to be cut up, further ones cost its price. Those whose bound leaves room for
    something cheaper than what is known are searched for it, the lowest bound first; they tell each other
    which fillings are good and what packs are worth at most, and share the effort of one order. The cheapest
    choice is the answer, and no choice of packs costs less than the least of their bounds. Every offer's
    first break must begin at one pack (ValueError).
    """
    if any(offer.breaks[0].min_packs != 1 for offer in offers):
        raise ValueError("the first price break of an offer must begin at one pack")
    sizes = [length_of(offer.pack_size, lengths) for offer in offers]
    strips = lengths.strips(max(sizes))
    counted = of_one_length(lengths, sizes, offers)
    if counted is not None:
        return counted, Cutting(counted.cost, counted.cost, Decimal(0), "packed", 0)
    best, proven = _Order(lengths, strips, sizes, offers).best()
    bound = max(min(best.cost, proven), least_by_length(lengths, offers))
    runs = (*(count for _, count in lengths.runs), *(count for *_, count in lengths.narrow))
    joints = sum(count for _, _, count in strips) - sum(runs)
    cutting = Cutting(best.cost, bound, best.cost - bound, best.method, joints)
    return Mix(best.counts, best.cost), cutting


def _asked(level: PriceBreak) -> int:
    """Packs that must be paid for the price; the first break asks for none."""
    return level.min_packs if level.min_packs > 1 else 0


def _at(offer: Offer, packs: int) -> PriceBreak:
    """So many packs paid at their price, and further ones at the same."""
    return PriceBreak(max(1, packs), pack_price(offer, max(1, packs)))


def _paid(levels: Levels) -> Decimal:
    return sum((_asked(level) * level.price for level in levels), Decimal(0))


@dataclass(frozen=True, slots=True)
class _Order:
    """What is cut from what is offered; of sticks the strips have no width."""

    lengths: CutLengths
    strips: Sequence[tuple[float, float, int]]
    sizes: Sequence[float]
    offers: Sequence[Offer]

    def best(self) -> tuple[_Tried, Decimal]:
        """The cheapest found, and what no other costs less than."""
        effort = Effort(OF_SIZES if len(self.offers) > 1 else MOST_EFFORT)
        learnt = Learnt()
        tried = self._each_alone(learnt, effort)
        if len(self.offers) == 1:
            return tried[0], tried[0].bound
        bounds: list[Decimal] = []
        open_ = {levels: self._by_length(levels) for levels in product(*(o.breaks for o in self.offers))}
        while open_:
            levels = min(open_, key=lambda each: open_[each])
            known = min((each.cost for each in tried), default=None)
            if known is not None and open_[levels] >= known:
                break
            least, part = open_.pop(levels), effort.part(LATER if open_ else 1)
            tried.append(self._bought(levels, part, learnt, known))
            effort.give_back(part)
            bounds.append(max(least, tried[-1].bound))
            open_ = {other: max(least, self._least(other, learnt)) for other, least in open_.items()}
        proven = min((*bounds, *open_.values()))
        return self._nearby(tried, proven, learnt, effort), proven

    def _nearby(self, tried: list[_Tried], proven: Decimal, learnt: Learnt, effort: Effort) -> _Tried:
        """The cheapest, looked for once more where a few of the packs most bought give way to others."""
        for fewer in FEWER:
            best = min(tried, key=lambda each: each.rank)
            if best.cost <= proven or effort.spent:
                break
            most = max(best.counts)
            kept = [most - fewer if count == most else 1 for count in best.counts]
            part = effort.part(2)
            tried.append(self._bought(tuple(map(_at, self.offers, kept)), part, learnt, best.cost))
            effort.give_back(part)
        return min(tried, key=lambda each: each.rank)

    def _each_alone(self, learnt: Learnt, effort: Effort) -> list[_Tried]:
        """Each size of which all runs can be cut without joints more, packed; and searched where it may be
        the cheapest."""
        longest = max((length for length, *_ in (*self.lengths.runs, *self.lengths.narrow)), default=0.0)
        holding = [n for n, size in enumerate(self.sizes) if size >= min(longest, max(self.sizes))]
        tried = {number: self._alone(number, 0, learnt, Effort(0)) for number in holding}
        for number in sorted(holding, key=lambda n: tried[n].bound):
            if tried[number].bound < min(each.cost for each in tried.values()):
                part = effort.part(min(2, len(self.offers)))
                tried[number] = self._alone(number, NODE_LIMIT, learnt, part)
                effort.give_back(part)
        return list(tried.values())

    def _alone(self, number: int, nodes: int, learnt: Learnt, effort: Effort) -> _Tried:
        """The fewest packs of one size, or more if these cost less."""
        plan = self._cut([Stock(self.sizes[number])], nodes, effort, None, learnt)
        packs = self._enough(number, plan.sticks)
        counts = tuple(packs * (n == number) for n in range(len(self.offers)))
        bound = self._price(number, self._enough(number, ceil(plan.bound)))
        return _Tried(self._cost(counts), bound, plan.method, counts)

    def _enough(self, number: int, least: int) -> int:
        """The packs of one size to buy where `least` are needed: of the cheapest numbers the lowest."""
        numbers = {max(least, _asked(level)) for level in self.offers[number].breaks}
        return min(numbers, key=lambda packs: (self._price(number, packs), packs))

    def _price(self, number: int, packs: int) -> Decimal:
        return packs * pack_price(self.offers[number], packs) if packs else Decimal(0)

    def _bought(self, levels: Levels, effort: Effort, learnt: Learnt, known: Decimal | None) -> _Tried:
        """The packs at these price breaks."""
        offered = self._offered(levels)
        enough = None if known is None else float(known - _paid(levels))
        plan = self._cut(tuple(offered), NODE_LIMIT, effort, enough, learnt)
        used: Counter[int] = Counter()
        for pattern in plan.patterns:
            used[offered[pattern.stock]] += pattern.times
        counts = tuple(max(used[number], _asked(level)) for number, level in enumerate(levels))
        bound = _paid(levels) + Decimal(repr(plan.bound))
        return _Tried(self._cost(counts), bound, plan.method, counts)

    def _by_length(self, levels: Levels) -> Decimal:
        """What these price breaks cost at least, by the length of all runs; rounded down."""
        paid = sum(size * _asked(level) for size, level in zip(self.sizes, levels, strict=True))
        rate = min(float(level.price) / size for size, level in zip(self.sizes, levels, strict=True))
        return _paid(levels) + floored(max(0.0, total_length(self.lengths) - paid) * rate)

    def _least(self, levels: Levels, learnt: Learnt) -> Decimal:
        """And by what is learnt of what packs are worth."""
        known = least_cost(tuple(self._offered(levels)), self.lengths.kerf_mm, learnt)
        return _paid(levels) + floored(known)

    def _cut(
        self, stocks: Sequence[Stock], nodes: int, effort: Effort, enough: float | None, learnt: Learnt
    ) -> CuttingPlan:
        """Runs of one width cut to length, with narrower ones among them ripped as well."""
        if self.lengths.narrow and self.lengths.width_mm is not None:
            return self._ripped(self.lengths.width_mm, stocks, nodes, effort, enough)
        return self._joined(stocks, nodes, effort, enough, learnt)

    def _joined(
        self,
        stocks: Sequence[Stock],
        nodes: int,
        effort: Effort,
        enough: float | None,
        learnt: Learnt | None = None,
    ) -> CuttingPlan:
        demands = [Demand(length, count) for length, count in self.lengths.runs]
        kerf, least = self.lengths.kerf_mm, self.lengths.min_piece_mm
        return cut_joined(demands, stocks, kerf, least, nodes, effort, enough, learnt)

    def _ripped(
        self, width: float, stocks: Sequence[Stock], nodes: int, effort: Effort, enough: float | None
    ) -> CuttingPlan:
        """Runs longer than a roll parted plainly, and as they would be best without narrow ones; what either
        proves holds for its own parting, so that nothing but the length is left as a bound for all."""
        longest = max(self.sizes)
        plain = cut_strips(self.strips, width, stocks, nodes, effort, enough).plan
        if all(length <= longest for length, *_ in (*self.lengths.runs, *self.lengths.narrow)):
            return plain
        alone = self._joined(stocks, 0, effort, enough)
        parted = [(piece, width, way.times) for way in alone.patterns for piece in way.pieces]
        narrow = replace(self.lengths, runs=()).strips(longest)
        other = cut_strips((*parted, *narrow), width, stocks, nodes, effort, enough).plan
        return replace(min(plain, other, key=lambda plan: plan.cost), bound=0.0)

    def _offered(self, levels: Levels) -> dict[Stock, int]:
        """The stocks with the number of the offer that each is of."""
        pieces = sum(count for *_, count in self.strips)
        return {
            stock: number
            for number, (size, level) in reversed(list(enumerate(zip(self.sizes, levels, strict=True))))
            for stock in _stocks(size, level, pieces)
        }

    def _cost(self, counts: Sequence[int]) -> Decimal:
        return goods_cost(self.offers, counts)


def _stocks(size: float, level: PriceBreak, pieces: int) -> Iterator[Stock]:
    """Packs already paid, then further ones; what costs nothing is limited by the pieces to cut."""
    if _asked(level):
        yield Stock(size, 0.0, _asked(level))
    yield Stock(size, float(level.price), None if level.price else pieces)
