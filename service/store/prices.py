"""The price in force: what is on sale on one day, as pricing's plain data."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from functools import lru_cache
from itertools import groupby
from typing import Any
from uuid import UUID

from sqlalchemy import RowMapping, Select, select
from sqlalchemy.orm import Session

from service.pricing import model as pricing
from service.pricing.exchange import in_own_currency
from service.store import rows
from service.store.exchange_rates import Rates, rates_into
from service.store.in_force import held
from service.store.models import ProductRow, Supplier
from service.store.session import org_of

_STATEMENTS = 256  # that are kept put together; each asks the database anew


def load_price_book(
    session: Session,
    roles: Collection[str],
    price_date: date,
    currency: str,
    job_offers: Collection[UUID] = (),
    chosen: Collection[UUID] = (),
    rates: Rates | None = None,
) -> pricing.PriceBook:
    """All that is on sale for `roles` on `price_date`, in `currency`.

    A day that is over is priced by what is known of it now. Prices of other
    currencies are converted at the rate of the day; those without one are left out and told.
    The products `chosen` are in the book even where nobody sells them, so that their lack can be told.
    Which list and which agreement count is the rule of `in_force`. Offers for one job count only where they
    are named in `job_offers`. The `rates` of the day are read where the caller has not read them.
    """
    sold = _sold(org_of(session), price_date, tuple(job_offers), frozenset(roles))
    found = session.execute(sold).mappings().all()
    sellers = _sellers(session, found)
    rates = rates or rates_into(session, currency, price_date)
    reached = [row for row in found if rates.reach(sellers[row["supplier_id"]].currency)]
    book = pricing.PriceBook(
        price_date=price_date,
        currency=currency,
        suppliers=tuple(_supplier(row) for row in sellers.values() if rates.reach(row.currency)),
        products=tuple(products_by_ids(session, {*chosen, *(row["product_id"] for row in reached)}).values()),
        offers=offers_of(reached),
        unconverted=rates.beyond(row.currency for row in sellers.values()),
    )
    return in_own_currency(book, rates.of({str(row.id): row.currency for row in sellers.values()}))


@lru_cache(_STATEMENTS)
def _sold(org_id: UUID, day: date, job_offers: tuple[UUID, ...], roles: frozenset[str]) -> Select[Any]:
    """The statement, which takes longer to put together than to send."""
    sold = held(
        org_id,
        day,
        job_offers,
        ProductRow.role.in_(sorted(roles)),
        ProductRow.archived_at.is_(None),
        Supplier.archived_at.is_(None),
    ).subquery()
    return select(sold).order_by(sold.c.supplier_id, sold.c.product_id, sold.c.pack_size, sold.c.min_packs)


def offers_of(found: Sequence[RowMapping]) -> tuple[pricing.Offer, ...]:
    """What rows in order of supplier, product, pack and break offer."""

    def offer_key(row: RowMapping) -> tuple[Any, ...]:
        return tuple(row[name] for name in ("supplier_id", "product_id", "pack_size", "price_list_id"))

    return tuple(_offer(key, list(items)) for key, items in groupby(found, offer_key))


def _offer(key: tuple[Any, ...], items: Sequence[RowMapping]) -> pricing.Offer:
    supplier, product, pack_size, price_list = key
    breaks = tuple(pricing.PriceBreak(item["min_packs"], item["price"]) for item in items)
    split = any(item["split"] for item in items)
    return pricing.Offer(str(supplier), str(product), pack_size, breaks, str(price_list), split)


def _sellers(session: Session, found: Sequence[RowMapping]) -> dict[UUID, Supplier]:
    """The suppliers of these items, ordered by id."""
    by_id = rows.by_ids(session, Supplier, {row["supplier_id"] for row in found})
    return dict(sorted(by_id.items()))


def _supplier(row: Supplier) -> pricing.Supplier:
    return pricing.Supplier(
        id=str(row.id),
        name=row.name,
        delivery_charge=row.delivery_charge,
        free_delivery_over=row.free_delivery_over,
        minimum_order=row.minimum_order,
        lead_time_days=row.lead_time_days,
        region=row.region,
        freight_per_kg=row.freight_per_kg,
        carry_in=row.carry_in,
        split_pack_surcharge=row.split_pack_surcharge,
        restocking_percent=row.restocking_percent,
    )


def products_by_ids(session: Session, ids: Iterable[UUID]) -> dict[UUID, pricing.Product]:
    """The organisation's products among these ids, archived ones too, ordered by id."""
    found = sorted(rows.by_ids(session, ProductRow, ids).values(), key=lambda row: row.id)
    return {row.id: product_of(row) for row in found}


def product_of(row: ProductRow) -> pricing.Product:
    """A stored product as pricing sees it."""
    attributes = {name: _attribute(value) for name, value in row.attributes.items()}
    return pricing.Product(str(row.id), row.role, row.name, row.unit, attributes, row.system, row.weight_kg)


def _attribute(value: Any) -> pricing.Attribute:
    """JSON knows no tuples, and one word is as good as a list of it."""
    if isinstance(value, list):
        return tuple(map(str, value))
    return value if isinstance(value, str) else float(value)
