"""The price in force: what is on sale on one day, as pricing's plain data."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from itertools import groupby
from typing import Any
from uuid import UUID

from sqlalchemy import RowMapping, select
from sqlalchemy.orm import Session

from service.pricing import model as pricing
from service.store import rows
from service.store.in_force import held
from service.store.models import ProductRow, Supplier
from service.store.session import org_of


def load_price_book(
    session: Session,
    roles: Collection[str],
    price_date: date,
    currency: str,
    job_offers: Collection[UUID] = (),
    chosen: Collection[UUID] = (),
) -> pricing.PriceBook:
    """All that is on sale for `roles` on `price_date` from suppliers who sell in `currency`.

    The products `chosen` are in the book even where nobody sells them, so that their lack can be told.
    Which list and which agreement count is the rule of `in_force`. Offers for one job count only where they
    are named in `job_offers`.
    """
    sold = held(
        org_of(session),
        price_date,
        job_offers,
        ProductRow.role.in_(list(roles)),
        ProductRow.archived_at.is_(None),
        Supplier.archived_at.is_(None),
        Supplier.currency == currency,
    ).subquery()
    order = (sold.c.supplier_id, sold.c.product_id, sold.c.pack_size, sold.c.min_packs)
    found = session.execute(select(sold).order_by(*order)).mappings().all()
    return pricing.PriceBook(
        price_date=price_date,
        currency=currency,
        suppliers=_suppliers(session, {row["supplier_id"] for row in found}),
        products=tuple(products_by_ids(session, {*chosen, *(row["product_id"] for row in found)}).values()),
        offers=_offers(found),
    )


def _offers(found: Sequence[RowMapping]) -> tuple[pricing.Offer, ...]:
    def offer_key(row: RowMapping) -> tuple[Any, ...]:
        return tuple(row[name] for name in ("supplier_id", "product_id", "pack_size", "price_list_id"))

    return tuple(_offer(key, list(items)) for key, items in groupby(found, offer_key))


def _offer(key: tuple[Any, ...], items: Sequence[RowMapping]) -> pricing.Offer:
    supplier, product, pack_size, price_list = key
    breaks = tuple(pricing.PriceBreak(item["min_packs"], item["price"]) for item in items)
    split = any(item["split"] for item in items)
    return pricing.Offer(str(supplier), str(product), pack_size, breaks, str(price_list), split)


def _suppliers(session: Session, ids: Iterable[UUID]) -> tuple[pricing.Supplier, ...]:
    found = sorted(rows.by_ids(session, Supplier, ids).values(), key=lambda row: row.id)
    return tuple(_supplier(row) for row in found)


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
