"""What is bought for needs, at cost: stated allowances, packs, and what their delivery costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from service.pricing.basket import fill
from service.pricing.buying import Basket, Buying
from service.pricing.choose import merged
from service.pricing.exchange import with_left_out, with_rates
from service.pricing.lines import allowance_line, delivery_lines, material_lines
from service.pricing.market import Market
from service.pricing.model import Gap, Line, Need, PriceBook, Terms
from service.pricing.packs import TOLERANCE


@dataclass(frozen=True, slots=True)
class Goods:
    """Lines at cost, and the basket where anything was bought; or the gaps that stand in the way."""

    lines: tuple[Line, ...] = ()
    basket: Basket | None = None
    gaps: tuple[Gap, ...] = ()


def goods(
    needs: Sequence[Need],
    book: PriceBook,
    terms: Terms,
    buying: Buying,
    days_to_start: int | None,
    market: Market,
) -> Goods:
    """Each need gets a stated allowance or goes into the basket; `market` is that of the book."""
    wanted = [need for need in merged(needs) if need.quantity > TOLERANCE]
    stated = [allowance_line(need, terms) for need in wanted]
    to_buy = [need for need, line in zip(wanted, stated, strict=True) if line is None]
    filled = fill(to_buy, market, buying, terms.rounding, days_to_start)
    gaps = (*(answer for answer in stated if isinstance(answer, Gap)), *filled.gaps)
    if gaps:
        return Goods(gaps=with_left_out(gaps, book))
    at_cost = (
        *(line for line in stated if isinstance(line, Line)),
        *material_lines(filled.bought, terms.rounding),
        *delivery_lines(filled.bought, book, terms.rounding),
    )
    return Goods(with_rates(at_cost, book), filled.basket)
