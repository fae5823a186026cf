"""The price book of a day, row by row, each with how its price came."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, RowMapping, literal, or_, select, tuple_
from sqlalchemy.orm import Session

from service.store import rows
from service.store.in_force import held, last_moment
from service.store.models import Agreement, PriceItem, PriceList, ProductRow, Supplier
from service.store.session import org_of


@dataclass(frozen=True, slots=True)
class BookRow:
    """One price in force: the stored item, what it belongs to, and the price after the agreement."""

    item: PriceItem
    price_list: PriceList
    product: ProductRow
    supplier: Supplier
    agreement: Agreement | None
    price: Decimal

    @property
    def id(self) -> UUID:
        return self.item.id

    @property
    def created_at(self) -> datetime:
        return self.item.created_at


def page(
    session: Session,
    day: date,
    limit: int,
    after: rows.Cursor | None,
    references: Collection[str] = (),
    known_at: datetime | None = None,
    **only: Any,
) -> Sequence[BookRow]:
    """Up to `limit` prices that hold on `day`, those last written first, from after the cursor on.

    They are those that were known at `known_at`, or else at the end of the day (today: now), so that what a
    past day was told to be stays. `only` keeps to a role, supplier_id or product_id. What was archived since
    the day is still told. Offers for one job count where their reference is named.
    """
    org_id = org_of(session)
    known = last_moment(org_id, day) if known_at is None else literal(known_at)
    offers = _offers(session, references)
    sold = held(org_id, day, offers, *_only(org_id, day, only), known=known).subquery()
    query = select(sold).order_by(sold.c.created_at.desc(), sold.c.id.desc()).limit(limit)
    if after is not None:
        query = query.where(tuple_(sold.c.created_at, sold.c.id) < after)
    return _told(session, session.execute(query).mappings().all())


def _offers(session: Session, references: Collection[str]) -> list[UUID]:
    named = (PriceList.org_id == org_of(session), PriceList.reference.in_(list(references)))
    return list(session.scalars(select(PriceList.id).where(*named))) if references else []


def _only(org_id: UUID, day: date, only: dict[str, Any]) -> list[ColumnElement[bool]]:
    moment = last_moment(org_id, day)
    columns = {
        "role": ProductRow.role,
        "supplier_id": PriceList.supplier_id,
        "product_id": PriceItem.product_id,
    }
    chosen = [columns[name] == value for name, value in only.items() if value is not None]
    kept = [or_(model.archived_at.is_(None), model.archived_at > moment) for model in (ProductRow, Supplier)]
    return [*chosen, *kept]


def _told(session: Session, found: Sequence[RowMapping]) -> list[BookRow]:
    items = rows.by_ids(session, PriceItem, {row["id"] for row in found})
    lists = rows.by_ids(session, PriceList, {row["price_list_id"] for row in found})
    products = rows.by_ids(session, ProductRow, {row["product_id"] for row in found})
    suppliers = rows.by_ids(session, Supplier, {row["supplier_id"] for row in found})
    agreements = rows.by_ids(session, Agreement, {row["agreement_id"] for row in found} - {None})
    return [
        BookRow(
            item=items[row["id"]],
            price_list=lists[row["price_list_id"]],
            product=products[row["product_id"]],
            supplier=suppliers[row["supplier_id"]],
            agreement=agreements.get(row["agreement_id"]),
            price=row["price"],
        )
        for row in found
    ]
