"""The cheapest sticks or rolls, out of one supplier's pack sizes of one product, for lengths to be cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product
from math import floor

from service.cutting.effort import MOST_EFFORT, Effort
from service.cutting.rolls import cut_strips
from service.cutting.runs import CutLengths, runs_of, together
from service.cutting.stock import NODE_LIMIT, CuttingPlan, Demand, Stock, cut_joined
from service.pricing.model import Cutting, Need, Offer, PriceBreak
from service.pricing.packs import Mix, pack_price

MM_PER_M = 1000.0
SEARCHES = 2
"""Searches' worth of effort that the choices of price breaks of one order share."""

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


def same_cutting(need: Need) -> CutLengths | None:
    """What needs must have alike, so that their lengths may be put together."""
    return need.lengths and replace(need.lengths, runs=(), narrow=())


def lengths_of(needs: Sequence[Need]) -> CutLengths | None:
    """The lengths of several needs of one product; a quantity without lengths among them is one run."""
    known = [need.lengths for need in needs if need.lengths is not None]
    if not known:
        return None
    plain = [need.quantity for need in needs if need.lengths is None]
    runs = runs_of(_length(quantity, known[0]) for quantity in plain)
    return together([*known, replace(known[0], runs=runs, narrow=())])


def _length(quantity: Decimal, lengths: CutLengths) -> float:
    """A quantity in m as it is, one in m2 over the width of its roll [mm]."""
    width_m = 1.0 if lengths.width_mm is None else lengths.width_mm / MM_PER_M
    return float(quantity) * MM_PER_M / width_m


def cut_mix(lengths: CutLengths, offers: Sequence[Offer]) -> tuple[Mix, Cutting]:
    """The cheapest packs from which all runs can be cut.

    Each choice of price breaks is a cutting problem of its own: the packs that a break asks for are paid and
    free to be cut up, further ones cost its price. All are packed; then those whose bound leaves room for
    something cheaper are searched for it, the lowest bound first, and share the effort of one order. The
    cheapest choice is the answer, and no choice of packs
    costs less than the least of their bounds. Every offer's first break must begin at one pack (ValueError).
    """
    if any(offer.breaks[0].min_packs != 1 for offer in offers):
        raise ValueError("the first price break of an offer must begin at one pack")
    sizes = [_length(offer.pack_size, lengths) for offer in offers]
    strips = lengths.strips(max(sizes))
    tried = _Order(lengths, strips, sizes, offers).tried()
    best = min(tried, key=lambda each: each.rank)
    bound = max(min(best.cost, *(each.bound for each in tried)), least_by_length(lengths, offers))
    runs = (*(count for _, count in lengths.runs), *(count for *_, count in lengths.narrow))
    joints = sum(count for _, _, count in strips) - sum(runs)
    cutting = Cutting(best.cost, bound, best.cost - bound, best.method, joints)
    return Mix(best.counts, best.cost), cutting


def least_by_length(lengths: CutLengths, offers: Sequence[Offer]) -> Decimal:
    """What all runs cost at the least price of a length, whatever is left over; rounded down."""
    total = sum(run * count for run, count in lengths.runs)
    total += sum(run * width * count / (lengths.width_mm or width) for run, width, count in lengths.narrow)
    offered = [(_length(offer.pack_size, lengths), offer) for offer in offers]
    cheapest = min(float(level.price) / size for size, offer in offered for level in offer.breaks)
    return Decimal(floor(total * cheapest * 100)) / 100


def _asked(level: PriceBreak) -> int:
    """Packs that must be paid for the price; the first break asks for none."""
    return level.min_packs if level.min_packs > 1 else 0


def _paid(levels: Levels) -> Decimal:
    return sum((_asked(level) * level.price for level in levels), Decimal(0))


@dataclass(frozen=True, slots=True)
class _Order:
    """What is cut from what is offered; of sticks the strips have no width."""

    lengths: CutLengths
    strips: Sequence[tuple[float, float, int]]
    sizes: Sequence[float]
    offers: Sequence[Offer]

    def tried(self) -> list[_Tried]:
        """Each choice of price breaks that may be the cheapest, packed and then searched."""
        tried: dict[Levels, _Tried] = {}
        effort = Effort(SEARCHES * MOST_EFFORT)
        packing = effort.part(2)
        for levels in sorted(product(*(offer.breaks for offer in self.offers)), key=_paid):
            if not tried or _paid(levels) < _least(tried.values()):
                tried[levels] = self._bought(levels, 0, packing)
        effort.give_back(packing)
        open_ = sorted(tried, key=lambda levels: tried[levels].bound)
        for number, levels in enumerate(open_):
            if tried[levels].bound < (known := _least(tried.values())):
                part = effort.part(len(open_) - number)
                tried[levels] = self._bought(levels, NODE_LIMIT, part, float(known - _paid(levels)))
                effort.give_back(part)
        return list(tried.values())

    def _bought(self, levels: Levels, nodes: int, effort: Effort, enough: float | None = None) -> _Tried:
        """The packs at these price breaks."""
        offered = self._offered(levels)
        plan = self._cut(tuple(offered), nodes, effort, enough)
        used: Counter[int] = Counter()
        for pattern in plan.patterns:
            used[offered[pattern.stock]] += pattern.times
        counts = tuple(max(used[number], _asked(level)) for number, level in enumerate(levels))
        bound = _paid(levels) + Decimal(repr(plan.bound))
        return _Tried(self._cost(counts), bound, plan.method, counts)

    def _cut(self, stocks: Sequence[Stock], nodes: int, effort: Effort, enough: float | None) -> CuttingPlan:
        """Runs of one width cut to length, with narrower ones among them ripped as well."""
        if self.lengths.narrow and self.lengths.width_mm is not None:
            return self._ripped(self.lengths.width_mm, stocks, nodes, effort, enough)
        return self._joined(stocks, nodes, effort, enough)

    def _joined(
        self, stocks: Sequence[Stock], nodes: int, effort: Effort, enough: float | None
    ) -> CuttingPlan:
        demands = [Demand(length, count) for length, count in self.lengths.runs]
        kerf, least = self.lengths.kerf_mm, self.lengths.min_piece_mm
        return cut_joined(demands, stocks, kerf, least, nodes, effort, enough)

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
        packs = zip(self.offers, counts, strict=True)
        return sum((n * pack_price(offer, n) for offer, n in packs if n), Decimal(0))


def _least(tried: Iterable[_Tried]) -> Decimal:
    return min(each.cost for each in tried)


def _stocks(size: float, level: PriceBreak, pieces: int) -> Iterator[Stock]:
    """Packs already paid, then further ones; what costs nothing is limited by the pieces to cut."""
    if _asked(level):
        yield Stock(size, 0.0, _asked(level))
    yield Stock(size, float(level.price), None if level.price else pieces)
