"""What is told of a basket: its orders, what is dearer than need be and why, and the second best."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import chain

from service.pricing.basket.deciding import Deciding
from service.pricing.basket.lots import Lot, Way
from service.pricing.basket.problem import Bill, Option, Refusal, bill
from service.pricing.basket.ranking import Choice
from service.pricing.basket.search import Outcome
from service.pricing.buying import Basket, Change, Dearer, Excluded, Order, SecondBest, Why
from service.pricing.model import Rounding

LIMITS_LEFT_OUT = "Buying more than is needed, to reach a limit for free delivery or a minimum order."
WAYS_LEFT_OUT = "Some ways to share the products of {role} between its needs."


class Teller:
    """Tells of one outcome in whole minor units of the currency."""

    def __init__(self, decided: Deciding, outcome: Outcome, choice: Choice, rounding: Rounding) -> None:
        self._decided, self._problem = decided, decided.problem
        self._outcome, self._choice = outcome, choice
        self._ways = decided.ways(choice)
        self._minor = rounding.minor
        told = bill(self._problem, choice)
        assert isinstance(told, Bill)  # noqa: S101  (the search adds every choice up before it takes it)
        self._bill = told

    def basket(self, excluded: Sequence[Excluded]) -> Basket:
        judged = Decimal(self._bill.judged).scaleb(-self._minor) / self._decided.share
        judged_gap = -(-(self._bill.judged - self._outcome.least) // self._decided.share)
        gap = min(judged_gap + self._uncertain(self._bill.judged), self._bill.judged // self._decided.share)
        return Basket(
            cost=self._money(self._bill.cost),
            judged=judged,
            bound=judged - self._money(gap),
            gap=self._money(gap),
            method=self._outcome.method,
            orders=tuple(self._orders()),
            dearer=tuple(self._dearer()),
            second_best=self._second(),
            excluded=tuple(excluded),
            left_out=tuple(self._left_out()),
        )

    def _money(self, minor: int) -> Decimal:
        return Decimal(minor).scaleb(-self._minor)

    def _uncertain(self, judged: int) -> int:
        """By how much ways to buy may miss their own least: lengths not proven, ways not tried.

        A way counts where it and all other lots at their least come to less than what is `judged` so.
        """
        floors = [_floor(lot) for lot in self._decided.lots]
        room = -(-judged // self._decided.share) - sum(floors)
        found = zip(self._decided.lots, floors, strict=True)
        return min(room, sum(_may_miss(lot, floor + room) for lot, floor in found))

    def _orders(self) -> Iterator[Order]:
        for number, supplier in enumerate(self._decided.suppliers):
            parts = [p for option in self._choice for p in option.parts if p.seller == number]
            if parts:
                goods = self._bill.goods[number]
                beside = sum(part.cost - part.goods for part in parts)
                charge = self._problem.sellers[number].charge(goods) + beside
                yield Order(supplier.id, supplier.name, self._money(goods), self._money(charge))

    def _dearer(self) -> Iterator[Dearer]:
        for place, (lot, way) in enumerate(zip(self._decided.lots, self._ways, strict=True)):
            cheaper = sorted(
                (other.cost, number) for number, other in enumerate(lot.ways) if other.cost < way.cost
            )
            if cheaper:
                least = lot.ways[cheaper[0][1]]
                yield Dearer(
                    role=lot.role,
                    taken=way.sources,
                    cost=self._money(way.cost),
                    cheapest=least.sources,
                    cheapest_cost=self._money(least.cost),
                    extra=self._money(way.cost - least.cost),
                    reasons=tuple(dict.fromkeys(self._why(place, lot, number) for _, number in cheaper)),
                )

    def _why(self, place: int, lot: Lot, number: int) -> Why:
        """Why a cheaper way is not taken, everything else staying as it is."""
        other = lot.ways[number]
        if other.barred:
            return other.barred
        if other.system != self._ways[place].system:
            return "one_system"
        option = next(option for option in self._problem.lots[place] if option.number == number)
        return self._against(self._with(place, option))

    def _with(self, place: int, option: Option) -> Choice:
        return (*self._choice[:place], option, *self._choice[place + 1 :])

    def _against(self, choice: Choice) -> Why:
        told = bill(self._problem, choice)
        if isinstance(told, Refusal):
            return told.reason
        if told.cost >= self._bill.cost:
            return "delivery_saved"
        return "preferred_supplier" if told.judged >= self._bill.judged else "not_searched"

    def _second(self) -> SecondBest | None:
        second = self._outcome.second
        if second is None:
            return None
        told = bill(self._problem, second.choice)
        assert isinstance(told, Bill)  # noqa: S101  (as above)
        pairs = zip(self._decided.lots, self._ways, self._decided.ways(second.choice), strict=True)
        return SecondBest(
            cost=self._money(told.cost),
            extra=self._money(told.cost - self._bill.cost),
            proven=self._outcome.second_proven and not self._uncertain(told.judged),
            changes=tuple(Change(lot.role, other.sources) for lot, own, other in pairs if own != other),
        )

    def _left_out(self) -> Iterator[str]:
        if any(seller.limited for seller in self._problem.sellers):
            yield LIMITS_LEFT_OUT
        for lot in self._decided.lots:
            if not lot.all_tried:
                yield WAYS_LEFT_OUT.format(role=lot.role)
        yield from dict.fromkeys(chain.from_iterable(map(_unweighed, self._ways)))


def _gap(way: Way) -> int:
    return sum(purchase.gap for purchase, _ in way.purchases)


def _floor(lot: Lot) -> int:
    """What the lot costs at least: nothing that is known of where not all ways were tried."""
    return min(way.cost - _gap(way) for way in lot.ways if way.barred is None) if lot.all_tried else 0


def _may_miss(lot: Lot, most: int) -> int:
    """How far ways that may come to less than `most` could be off."""
    open_ = [way for way in lot.ways if way.barred is None]
    widest = max((_gap(way) for way in open_ if way.cost - _gap(way) < most), default=0)
    return widest + (0 if lot.all_tried else min(way.cost for way in open_))


def _unweighed(way: Way) -> Iterator[str]:
    for purchase, _ in way.purchases:
        if purchase.supplier.freight_per_kg and purchase.product.weight_kg is None:
            yield f"The freight of {purchase.product.name}, whose weight is not stated."
