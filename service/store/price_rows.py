"""The rows of price lists, as they were when prices were taken from them: active lists are never edited."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple
from uuid import UUID

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import Session

from service.store.models import PriceItem, PriceList
from service.store.session import org_of


@dataclass(frozen=True, slots=True)
class PriceRow:
    """The price of a pack from so many packs on, in the supplier's currency, and the list that has it."""

    product: str
    pack_size: Decimal
    min_packs: int
    price: Decimal
    price_list: str
    valid_from: date


ArticleKey = tuple[str | None, str | None, Decimal | None]
"""Price list, product and pack size."""


class Article(NamedTuple):
    """A supplier's own code for a pack of a product, and whether it is taken out of an opened larger one."""

    code: str | None
    split: bool


def articles(
    session: Session, lists: Collection[UUID], products: Collection[UUID]
) -> dict[ArticleKey, Article]:
    """What these lists call the packs of these products."""
    items = session.scalars(select(PriceItem).where(*_of(session, lists, products)))
    return {
        (str(item.price_list_id), str(item.product_id), item.pack_size): Article(
            item.supplier_code, item.split
        )
        for item in items
    }


def price_rows(
    session: Session, lists: Collection[UUID], products: Collection[UUID]
) -> dict[str, list[PriceRow]]:
    """What these lists say of these products, by the list's id."""
    query = select(PriceItem, PriceList.name, PriceList.valid_from).join(
        PriceList, (PriceList.org_id == PriceItem.org_id) & (PriceList.id == PriceItem.price_list_id)
    )
    found: dict[str, list[PriceRow]] = {}
    for item, name, valid_from in session.execute(query.where(*_of(session, lists, products))):
        row = PriceRow(str(item.product_id), item.pack_size, item.min_packs, item.price, name, valid_from)
        found.setdefault(str(item.price_list_id), []).append(row)
    return found


def _of(
    session: Session, lists: Collection[UUID], products: Collection[UUID]
) -> tuple[ColumnElement[bool], ...]:
    return (
        PriceItem.org_id == org_of(session),
        PriceItem.price_list_id.in_(list(lists)),
        PriceItem.product_id.in_(list(products)),
    )
