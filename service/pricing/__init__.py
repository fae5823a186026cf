"""Prices: needs and hours in; whole packs, lines and totals out. Pure, and all money Decimal."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from service.pricing.buying import Buying
from service.pricing.exchange import left_out
from service.pricing.goods import goods
from service.pricing.lines import day_work_lines, labour_lines
from service.pricing.market import Market
from service.pricing.model import Extra, Hours, Need, PriceBook, Priced, Terms
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
    asked = market or Market(book, terms.rounding)
    bought = goods(needs, book, terms, buying or terms.buying, days_to_start, asked)
    if bought.gaps:
        return Priced(book.currency, (), None, bought.gaps, notices=left_out(book))
    at_cost = [
        *bought.lines,
        *labour_lines(hours, hourly_cost, terms.rounding),
        *day_work_lines(extras, hourly_cost, terms.rounding),
    ]
    lines, totals = total(at_cost, terms)
    return Priced(book.currency, lines, totals, basket=bought.basket, notices=left_out(book))
