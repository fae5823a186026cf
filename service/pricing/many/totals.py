"""From lines at cost to what customers pay, for many quotes of the same terms, in the order of `total`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from service.pricing.many.arrays import Ints, Segments, part_of, parts_of
from service.pricing.model import TaxRule, Terms
from service.pricing.money import as_part, minor_unit, to_minor
from service.pricing.terms import rate_of_group

KINDS = ("material", "delivery", "labour")
"""Of lines at cost, by their number."""
UNCHARGED = -1


@dataclass(frozen=True, slots=True)
class ManyLines:
    """The lines at cost of many quotes, quote by quote in their order.

    `quotes` counts each quote's lines; the arrays hold for each line its kind (a place in KINDS), its group
    (a place in `names`) and its amount in minor units. `charged` is what hours at a rate cost the customer,
    UNCHARGED where the price follows from cost.
    """

    quotes: Ints
    kinds: Ints
    groups: Ints
    amounts: Ints
    charged: Ints
    names: Sequence[str]

    @property
    def places(self) -> Ints:
        """The quote of each line."""
        return np.repeat(np.arange(len(self.quotes)), self.quotes)


@dataclass(frozen=True, slots=True)
class ManyTotals:
    """In minor units: `prices` for each line, all else for each quote, by the names of Totals.

    `taxes` holds base and amount for each tax of the terms, `stages` the payments.
    """

    prices: Ints
    sums: dict[str, Ints]
    taxes: tuple[tuple[Ints, Ints], ...]
    stages: tuple[Ints, ...]


def total_many(lines: ManyLines, terms: Terms) -> ManyTotals:
    """What `total` gives for each quote; TooLarge where 64 bits would not hold a product."""
    return _Order(lines, terms).totals()


class _Order:
    """The order of money; every quote has a line."""

    def __init__(self, lines: ManyLines, terms: Terms) -> None:
        self._lines, self._terms = lines, terms
        self._even = terms.rounding.method == "half_even"
        self._by_line = terms.rounding.per == "line"
        self._quotes = Segments(lines.places)
        self._unit = minor_unit(terms.rounding)

    def totals(self) -> ManyTotals:
        lines, terms, of_quotes = self._lines, self._terms, self._quotes
        by_kind = {name: of_quotes.sums(lines.amounts * (lines.kinds == k)) for k, name in enumerate(KINDS)}
        cost = of_quotes.sums(lines.amounts)
        held = lines.amounts + self._parts(of_quotes, lines.amounts, as_part(terms.contingency_percent))
        prices = np.where(lines.charged == UNCHARGED, held + self._uplift(held), lines.charged)
        asked = of_quotes.sums(prices)
        discounts = self._discounts(prices)
        discount = of_quotes.sums(discounts)
        raised = self._raised(asked - discount)
        net = self._stepped(asked - discount + raised)
        taxes = self._taxes(prices, discounts, net)
        tax = sum((amount for _, amount in taxes), np.zeros_like(net))
        deposit = self._percent(net + tax, terms.deposit_percent)
        sums = {
            "materials": by_kind["material"],
            "delivery": by_kind["delivery"],
            "labour": by_kind["labour"],
            "contingency": of_quotes.sums(held) - cost,
            "markup": asked - of_quotes.sums(held),
            "discount": discount,
            "minimum_charge": raised,
            "rounding": net - (asked - discount + raised),
            "net": net,
            "tax": tax,
            "gross": net + tax,
            "deposit": deposit,
            "retention": self._percent(net + tax, terms.retention_percent),
        }
        return ManyTotals(prices, sums, taxes, self._stages(net + tax, deposit))

    def _parts(self, segments: Segments, values: Ints, rate: Fraction) -> Ints:
        """As `money.parts_of`, in each segment."""
        if self._by_line:
            return part_of(values, rate, self._even)
        return segments.shared(part_of(segments.sums(values), rate, self._even), values)

    def _uplift(self, held: Ints) -> Ints:
        """Each group's uplift on the prices of its lines."""
        names, lines = self._lines.names, self._lines
        rates = [rate_of_group(self._terms, name) for name in names]
        above, below = (
            np.array([getattr(rate, side) for rate in rates]) for side in ("numerator", "denominator")
        )
        if self._by_line:
            return parts_of(held, above[lines.groups], below[lines.groups], self._even)
        grouped = Segments(lines.places * len(names) + lines.groups)
        group = grouped.labels % len(names)
        whole = parts_of(grouped.sums(held), above[group], below[group], self._even)
        return grouped.shared(whole, held)

    def _discounts(self, prices: Ints) -> Ints:
        return self._parts(self._quotes, prices, as_part(self._terms.discount_percent))

    def _raised(self, net: Ints) -> Ints:
        least = self._terms.minimum_charge
        if least is None:
            return np.zeros_like(net)
        return np.maximum(0, self._minor(to_minor(least, self._terms.rounding)) - net)

    def _stepped(self, net: Ints) -> Ints:
        step = self._terms.rounding.total_step
        if step is None:
            return net
        in_units = Fraction(step) / Fraction(self._unit)
        return part_of(part_of(net, 1 / in_units, self._even), in_units, self._even)

    def _taxes(self, prices: Ints, discounts: Ints, net: Ints) -> tuple[tuple[Ints, Ints], ...]:
        if not self._terms.taxes:
            return ()
        parts, segments, labour = self._bases(prices, discounts, net)
        return tuple(self._tax(rule, parts, segments, labour) for rule in self._terms.taxes)

    def _bases(
        self, prices: Ints, discounts: Ints, net: Ints
    ) -> tuple[Ints, Segments, NDArray[np.bool_] | None]:
        """The parts of net that taxes are taken of: those of lines, or of goods and labour."""
        labour = self._lines.kinds == KINDS.index("labour")
        if self._by_line:
            return self._quotes.shared(net, prices - discounts), self._quotes, labour
        goods, work = (self._quotes.sums(prices * of) for of in (~labour, labour))
        pairs = Segments(np.repeat(np.arange(len(net)), 2))
        return pairs.shared(net, np.stack([goods, work], axis=1).ravel()), pairs, None

    def _tax(
        self, rule: TaxRule, parts: Ints, segments: Segments, labour: NDArray[np.bool_] | None
    ) -> tuple[Ints, Ints]:
        on = np.tile([False, True], len(parts) // 2) if labour is None else labour
        kept = {"materials": ~on, "labour": on, "all": np.ones(len(parts), bool)}[rule.base]
        base = segments.sums(parts * kept)
        if self._terms.reverses(rule):
            return base, np.zeros_like(base)
        rate = as_part(rule.percent)
        if not self._by_line:
            return base, part_of(base, rate, self._even)
        return base, segments.sums(part_of(parts * kept, rate, self._even))

    def _stages(self, gross: Ints, deposit: Ints) -> tuple[Ints, ...]:
        stages = self._terms.stages
        if not stages:
            return ()
        percent = sum((stage.percent for stage in stages), Decimal(0))
        together = self._percent(gross, percent)
        if percent + self._terms.deposit_percent == 100:
            together = gross - deposit
        left, first = together, []
        for stage in stages[:-1]:
            first.append(np.minimum(left, self._percent(gross, stage.percent)))
            left = left - first[-1]
        return (*first, left)

    def _percent(self, values: Ints, percent: Decimal) -> Ints:
        return part_of(values, as_part(percent), self._even)

    def _minor(self, value: Decimal) -> int:
        return int(value / self._unit)
