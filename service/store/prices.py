"""The price in force: what is on sale on one day, as pricing's plain data."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date
from itertools import groupby
from typing import Any
from uuid import UUID

from sqlalchemy import RowMapping, func, or_, select
from sqlalchemy.orm import Session

from service.pricing import model as pricing
from service.store import rows
from service.store.models import PriceItem, PriceList, ProductRow, Supplier
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
    Of a supplier's lists that hold on the day and name the product, the one of the highest priority counts,
    then the one that began last. Offers for one job count only where they are named in `job_offers`.
    """
    found = (
        session.execute(_in_force(org_of(session), roles, price_date, currency, job_offers)).mappings().all()
    )
    return pricing.PriceBook(
        price_date=price_date,
        currency=currency,
        suppliers=_suppliers(session, {row["supplier_id"] for row in found}),
        products=tuple(products_by_ids(session, {*chosen, *(row["product_id"] for row in found)}).values()),
        offers=_offers(found),
    )


def _in_force(
    org_id: UUID, roles: Collection[str], day: date, currency: str, job_offers: Collection[UUID]
) -> Any:
    """The items of the winning list of each supplier and product, ordered by offer and break."""
    place = func.rank().over(
        partition_by=(PriceList.supplier_id, PriceItem.product_id),
        order_by=(
            PriceList.priority.desc(),
            PriceList.valid_from.desc(),
            PriceList.activated_at.desc(),
            PriceList.id,
        ),
    )
    held = (
        select(
            PriceList.supplier_id,
            PriceItem.product_id,
            PriceItem.price_list_id,
            PriceItem.pack_size,
            PriceItem.min_packs,
            PriceItem.price,
            place.label("place"),
        )
        .select_from(PriceList)
        .join(PriceItem, (PriceItem.org_id == PriceList.org_id) & (PriceItem.price_list_id == PriceList.id))
        .join(ProductRow, (ProductRow.org_id == PriceItem.org_id) & (ProductRow.id == PriceItem.product_id))
        .join(Supplier, (Supplier.org_id == PriceList.org_id) & (Supplier.id == PriceList.supplier_id))
        .where(
            PriceList.org_id == org_id,
            PriceList.state == "active",
            PriceList.valid_from <= day,
            or_(PriceList.valid_until.is_(None), PriceList.valid_until >= day),
            or_(PriceList.kind != "job_offer", PriceList.id.in_(list(job_offers))),
            ProductRow.role.in_(list(roles)),
            ProductRow.archived_at.is_(None),
            Supplier.archived_at.is_(None),
            Supplier.currency == currency,
        )
        .subquery()
    )
    order = (held.c.supplier_id, held.c.product_id, held.c.pack_size, held.c.min_packs)
    return select(held).where(held.c.place == 1).order_by(*order)


def _offers(found: Sequence[RowMapping]) -> tuple[pricing.Offer, ...]:
    def offer_key(row: RowMapping) -> tuple[Any, ...]:
        return row["supplier_id"], row["product_id"], row["pack_size"], row["price_list_id"]

    return tuple(_offer(key, list(items)) for key, items in groupby(found, offer_key))


def _offer(key: tuple[Any, ...], items: Iterable[RowMapping]) -> pricing.Offer:
    supplier, product, pack_size, price_list = key
    breaks = tuple(pricing.PriceBreak(item["min_packs"], item["price"]) for item in items)
    return pricing.Offer(str(supplier), str(product), pack_size, breaks, str(price_list))


def _suppliers(session: Session, ids: Iterable[UUID]) -> tuple[pricing.Supplier, ...]:
    found = sorted(rows.by_ids(session, Supplier, ids).values(), key=lambda row: row.id)
    return tuple(
        pricing.Supplier(str(row.id), row.name, row.delivery_charge, row.free_delivery_over) for row in found
    )


def products_by_ids(session: Session, ids: Iterable[UUID]) -> dict[UUID, pricing.Product]:
    """The organisation's products among these ids, archived ones too, ordered by id."""
    found = sorted(rows.by_ids(session, ProductRow, ids).values(), key=lambda row: row.id)
    return {row.id: product_of(row) for row in found}


def product_of(row: ProductRow) -> pricing.Product:
    """A stored product as pricing sees it."""
    attributes = {name: _attribute(value) for name, value in row.attributes.items()}
    return pricing.Product(str(row.id), row.role, row.name, row.unit, attributes, row.system)


def _attribute(value: Any) -> pricing.Attribute:
    """JSON knows no tuples, and one word is as good as a list of it."""
    if isinstance(value, list):
        return tuple(map(str, value))
    return value if isinstance(value, str) else float(value)
