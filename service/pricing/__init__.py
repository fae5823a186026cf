"""Prices: needs and hours in; whole packs, lines and totals out. Pure, and all money Decimal."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from service.pricing.choose import Chosen, choose, merged
from service.pricing.lines import allowance_line, delivery_lines, labour_lines, material_lines
from service.pricing.market import Market
from service.pricing.model import Gap, Hours, Line, Need, PriceBook, Priced, Terms
from service.pricing.packs import TOLERANCE
from service.pricing.totals import total


def price(
    needs: Sequence[Need], hours: Sequence[Hours], hourly_cost: Decimal, book: PriceBook, terms: Terms
) -> Priced:
    """Price what a job needs.

    Each need gets the office's product, a stated allowance, or the cheapest fitting product, line by line
    before delivery; then each supplier used delivers once, hours are paid, and the terms are applied.
    `hourly_cost` is per hour in the book's currency. Where a need cannot be met there are gaps and no lines.
    Raises ValueError for a margin of 100 percent and for an offer without a price from the first pack on.
    """
    wanted = [need for need in merged(needs) if need.quantity > TOLERANCE]
    stated = [allowance_line(need, terms) for need in wanted]
    market = Market(book)
    found = choose([need for need, line in zip(wanted, stated, strict=True) if line is None], market)
    gaps = tuple(answer for answer in (*stated, *found) if isinstance(answer, Gap))
    if gaps:
        return Priced(book.currency, (), None, gaps)
    bought = material_lines([one for one in found if isinstance(one, Chosen)], market, terms.rounding)
    material = [*(line for line in stated if isinstance(line, Line)), *bought]
    lines, totals = total(
        [
            *material,
            *delivery_lines(material, book, terms.rounding),
            *labour_lines(hours, hourly_cost, terms.rounding),
        ],
        terms,
    )
    return Priced(book.currency, lines, totals)
