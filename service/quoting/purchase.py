"""What to buy for a quote, from whom and by when."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, timedelta
from decimal import Decimal
from uuid import UUID

from sqlalchemy.orm import Session

from service.pricing.model import Line, Priced
from service.quoting.errors import Conflict, NotFound
from service.quoting.quotes import StoredQuote
from service.store import rows
from service.store.models import Supplier
from service.store.price_rows import Article, ArticleKey, articles

HUNDREDTH = Decimal("0.01")
MUST_NOT = "the floor must not be built so: nothing is bought, picked or done for it"


@dataclass(frozen=True, slots=True)
class PackReturned:
    """What one unopened pack of a product brings when it is sent back, in the quote's currency."""

    product: str
    pack_size: Decimal
    brings: Decimal


@dataclass(frozen=True, slots=True)
class Bought(Line):
    """A line of goods with the supplier's own code for them; `split`: taken out of an opened larger pack."""

    supplier_code: str | None = None
    split: bool = False


@dataclass(frozen=True, slots=True)
class Order:
    """What one supplier is to deliver; `order_by` is known where the day is on which it is needed.

    `restocking_percent` is what he keeps back of goods returned, as stated today, `returns` what is left.
    """

    supplier: UUID
    supplier_name: str
    lead_time_days: int | None
    order_by: date | None
    lines: tuple[Line, ...]
    goods: Decimal
    delivery: Decimal
    restocking_percent: Decimal | None = None
    returns: tuple[PackReturned, ...] = ()

    @property
    def total(self) -> Decimal:
        return self.goods + self.delivery


@dataclass(frozen=True, slots=True)
class PurchaseList:
    """Orders by supplier as the quote priced them, and the allowances whose product is still to be chosen."""

    quote: StoredQuote
    needed_by: date | None
    orders: tuple[Order, ...]
    to_choose: tuple[Line, ...]


def bought_by(quote: StoredQuote) -> Priced:
    """What the quote bought; Conflict where its floor must not be built so."""
    if quote.priced is None:
        raise Conflict(MUST_NOT)
    return quote.priced


def purchase_list(
    session: Session, quote: StoredQuote, supplier: UUID | None = None, needed_by: date | None = None
) -> PurchaseList:
    """The quote's purchases, or those from one supplier; prices are the quote's, lead times today's.

    Conflict where the floor is refused, NotFound for a supplier from whom the quote buys nothing.
    """
    priced = bought_by(quote)
    found = {order.supplier: order for order in orders_of(priced)}
    if supplier is not None and supplier not in found:
        raise NotFound("supplier in this quote")
    wanted = [order for order in found.values() if supplier in (None, order.supplier)]
    known = rows.by_ids(session, Supplier, found)
    named = _named(session, wanted)
    dated = tuple(_dated(order, known, needed_by) for order in named)
    return PurchaseList(quote, needed_by, dated, () if supplier else _to_choose(priced))


def orders_of(priced: Priced) -> Iterable[Order]:
    """The lines of each supplier, in the order of their first line."""
    by_supplier: dict[str, list[Line]] = {}
    for line in priced.lines:
        if line.supplier is not None:
            by_supplier.setdefault(line.supplier, []).append(line)
    return [_order(UUID(supplier), lines) for supplier, lines in by_supplier.items()]


def _order(supplier: UUID, lines: list[Line]) -> Order:
    goods = tuple(line for line in lines if line.kind == "material")
    return Order(
        supplier=supplier,
        supplier_name=lines[0].supplier_name or "",
        lead_time_days=None,
        order_by=None,
        lines=goods,
        goods=_amount(goods),
        delivery=_amount(line for line in lines if line.kind == "delivery"),
    )


def _named(session: Session, orders: Sequence[Order]) -> Iterable[Order]:
    """With what the lists of prices that were taken call the goods."""
    lines = [line for order in orders for line in order.lines if line.product and line.price_list]
    lists, products = ({UUID(getattr(line, of)) for line in lines} for of in ("price_list", "product"))
    told = articles(session, lists, products)
    for order in orders:
        yield replace(order, lines=tuple(_bought(line, told) for line in order.lines))


def _bought(line: Line, told: Mapping[ArticleKey, Article]) -> Bought:
    stated = {each.name: getattr(line, each.name) for each in fields(Line)}
    found = told.get((line.price_list, line.product, line.pack_size), Article(None, False))
    return Bought(**stated, supplier_code=found.code, split=found.split)


def _dated(order: Order, known: Mapping[UUID, Supplier], needed_by: date | None) -> Order:
    """With the supplier's terms of today: his lead time in calendar days, the day that many before the goods
    are needed, and what he gives for packs sent back."""
    supplier = known.get(order.supplier)
    if supplier is None:
        return order
    days = supplier.lead_time_days
    order_by = None if needed_by is None else needed_by - timedelta(days)
    kept = supplier.restocking_percent
    left = (100 - kept) * HUNDREDTH
    returns = tuple(
        PackReturned(line.product, line.pack_size, line.cost * left)
        for line in order.lines
        if line.product is not None and line.pack_size is not None
    )
    return replace(order, lead_time_days=days, order_by=order_by, restocking_percent=kept, returns=returns)


def _to_choose(priced: Priced) -> tuple[Line, ...]:
    return tuple(line for line in priced.lines if line.kind == "material" and line.supplier is None)


def _amount(lines: Iterable[Line]) -> Decimal:
    return sum((line.amount for line in lines), Decimal(0))
