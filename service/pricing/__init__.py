"""Prices: needs and hours in; whole packs, lines and totals out. Pure, and all money Decimal."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from service.pricing.basket import fill
from service.pricing.buying import Buying
from service.pricing.choose import merged
from service.pricing.exchange import left_out, with_left_out, with_rates
from service.pricing.lines import allowance_line, day_work_lines, delivery_lines, labour_lines, material_lines
from service.pricing.market import Market
from service.pricing.model import Extra, Gap, Hours, Line, Need, PriceBook, Priced, Terms
from service.pricing.packs import TOLERANCE
from service.pricing.totals import total


def price(
    needs: Sequence[Need],
    hours: Sequence[Hours],
    hourly_cost: Decimal,
    book: PriceBook,
    terms: Terms,
    buying: Buying | None = None,
    days_to_start: int | None = None,
    market: Market | None = None,
    extras: Sequence[Extra] = (),
) -> Priced:
    """Price what a job needs.

    Each need gets a stated allowance or goes into the basket, which is bought as `buying` says, else the
    terms; then hours are paid, and the terms are applied. `hourly_cost` is per hour in the book's currency.
    Suppliers who need longer than `days_to_start`, where given, are not asked. Where a need cannot be met
    there are gaps and no lines.
    `extras` are hours of day work, each charged at its rate.
    `market` is that of the book and the rounding of the terms, where it was asked before.
    Raises ValueError for a margin of 100 percent and for an offer without a price from the first pack on.
    """
    wanted = [need for need in merged(needs) if need.quantity > TOLERANCE]
    stated = [allowance_line(need, terms) for need in wanted]
    to_buy = [need for need, line in zip(wanted, stated, strict=True) if line is None]
    asked = market or Market(book, terms.rounding)
    filled = fill(to_buy, asked, buying or terms.buying, terms.rounding, days_to_start)
    gaps = (*(answer for answer in stated if isinstance(answer, Gap)), *filled.gaps)
    if gaps:
        return Priced(book.currency, (), None, with_left_out(gaps, book), notices=left_out(book))
    at_cost = [
        *(line for line in stated if isinstance(line, Line)),
        *material_lines(filled.bought, terms.rounding),
        *delivery_lines(filled.bought, book, terms.rounding),
        *labour_lines(hours, hourly_cost, terms.rounding),
        *day_work_lines(extras, hourly_cost, terms.rounding),
    ]
    lines, totals = total(at_cost, terms)
    return Priced(
        book.currency, with_rates(lines, book), totals, basket=filled.basket, notices=left_out(book)
    )
