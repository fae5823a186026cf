"""Prices of another currency in the office's own, at a dated rate, by one rule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from service.pricing.model import (
    Exchange,
    Gap,
    Line,
    Notice,
    Offer,
    PriceBook,
    PriceBreak,
    Rounding,
    Supplier,
)
from service.pricing.money import to_minor

UNIT_PRICE = Rounding("half_up", 4)
"""What was converted has four decimals, halves away from zero, as PostgreSQL's round() does it."""
CHARGES = (
    "delivery_charge",
    "free_delivery_over",
    "minimum_order",
    "freight_per_kg",
    "carry_in",
    "split_pack_surcharge",
)
"""All amounts of money that a supplier states beside the prices of packs."""


def converted(price: Decimal, rate: Decimal) -> Decimal:
    """The exact product of price and rate, rounded once."""
    return to_minor(Fraction(price) * Fraction(rate), UNIT_PRICE)


def in_own_currency(book: PriceBook, exchanges: Mapping[str, Exchange]) -> PriceBook:
    """The book with the prices and charges of these suppliers, by id, converted at their rates."""
    return replace(
        book,
        suppliers=tuple(_supplier(one, exchanges.get(one.id)) for one in book.suppliers),
        offers=tuple(_offer(one, exchanges.get(one.supplier)) for one in book.offers),
        exchanges=exchanges,
    )


def _supplier(supplier: Supplier, exchange: Exchange | None) -> Supplier:
    if exchange is None:
        return supplier
    stated = {name: getattr(supplier, name) for name in CHARGES}
    own: dict[str, Any] = {
        name: converted(value, exchange.rate) for name, value in stated.items() if value is not None
    }
    return replace(supplier, **own)


def _offer(offer: Offer, exchange: Exchange | None) -> Offer:
    if exchange is None:
        return offer
    breaks = (PriceBreak(one.min_packs, converted(one.price, exchange.rate)) for one in offer.breaks)
    return replace(offer, breaks=tuple(breaks))


def with_rates(lines: tuple[Line, ...], book: PriceBook) -> tuple[Line, ...]:
    """The lines bought in another currency with the rate that their cost came by."""
    return tuple(replace(line, exchange=book.exchanges.get(line.supplier or "")) for line in lines)


def left_out(book: PriceBook) -> tuple[Notice, ...]:
    """Which prices could not be converted: a rate that is not held is never taken to be 1."""
    day = book.price_date.isoformat()
    return tuple(
        Notice(
            "exchange_rate",
            f"prices in {currency} were left out: no exchange rate from {currency} to {book.currency} is held"
            f" for {day}",
        )
        for currency in book.unconverted
    )


def with_left_out(gaps: Sequence[Gap], book: PriceBook) -> tuple[Gap, ...]:
    """The gaps, each with the prices that might have filled it had there been a rate."""
    more = "".join(f"; {notice.message}" for notice in left_out(book))
    return tuple(replace(gap, message=f"{gap.message}{more}") for gap in gaps)
