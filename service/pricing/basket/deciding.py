"""From lots and suppliers to the numbers of the problem, and from what was decided back to ways to buy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from service.pricing.basket.lots import Lot, Way
from service.pricing.basket.problem import Option, Part, Problem, Seller
from service.pricing.basket.ranking import Choice
from service.pricing.buying import Buying
from service.pricing.model import Rounding, Supplier
from service.pricing.money import as_part
from service.pricing.packs import in_minor


@dataclass(frozen=True, slots=True)
class Deciding:
    """The problem beside what its numbers stand for; `share` of a minor unit is what costs are judged in."""

    problem: Problem
    lots: tuple[Lot, ...]
    suppliers: tuple[Supplier, ...]
    share: int

    def ways(self, choice: Choice) -> list[Way]:
        return [lot.ways[option.number] for lot, option in zip(self.lots, choice, strict=True)]


def deciding(
    lots: Sequence[Lot], suppliers: Sequence[Supplier], buying: Buying, rounding: Rounding
) -> Deciding:
    extra = _extra(buying)
    numbers = {supplier.id: number for number, supplier in enumerate(suppliers)}
    systems = sorted({way.system for lot in lots for way in lot.ways if way.system is not None})
    problem = Problem(
        lots=tuple(_options(lot, numbers, systems) for lot in lots),
        sellers=tuple(_seller(supplier, buying, extra, rounding) for supplier in suppliers),
        most=buying.max_suppliers,
    )
    return Deciding(problem, tuple(lots), tuple(suppliers), extra.denominator)


def _extra(buying: Buying) -> Fraction:
    """What is not bought from a preferred supplier is judged at so many times its cost."""
    judged = buying.preferred and buying.mode == "cheapest"
    return 1 + as_part(buying.tolerated_extra_percent) if judged else Fraction(1)


def _options(lot: Lot, numbers: dict[str, int], systems: list[str]) -> tuple[Option, ...]:
    return tuple(
        Option(number, _parts(way, numbers), None if way.system is None else systems.index(way.system))
        for number, way in enumerate(lot.ways)
        if way.barred is None
    )


def _parts(way: Way, numbers: dict[str, int]) -> tuple[Part, ...]:
    """One part a seller."""
    parts: dict[int, Part] = {}
    for purchase, _ in way.purchases:
        seller = numbers[purchase.supplier.id]
        had = parts.get(seller, Part(seller, 0, 0))
        parts[seller] = Part(seller, had.cost + purchase.cost, had.goods + purchase.goods)
    return tuple(parts.values())


def _seller(supplier: Supplier, buying: Buying, extra: Fraction, rounding: Rounding) -> Seller:
    def minor(value: Decimal | None) -> int:
        return 0 if value is None else in_minor(value, rounding)

    return Seller(
        delivery=minor(supplier.delivery_charge),
        free_over=None if supplier.free_delivery_over is None else minor(supplier.free_delivery_over),
        carry_in=minor(supplier.carry_in),
        minimum=minor(supplier.minimum_order),
        weight=extra.denominator if supplier.id in buying.preferred else extra.numerator,
    )
