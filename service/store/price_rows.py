"""The rows of price lists, as they were when prices were taken from them: active lists are never edited."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID

from sqlalchemy import select
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


def price_rows(
    session: Session, lists: Collection[UUID], products: Collection[UUID]
) -> dict[str, list[PriceRow]]:
    """What these lists say of these products, by the list's id."""
    query = (
        select(PriceItem, PriceList.name, PriceList.valid_from)
        .join(PriceList, (PriceList.org_id == PriceItem.org_id) & (PriceList.id == PriceItem.price_list_id))
        .where(PriceItem.org_id == org_of(session), PriceItem.price_list_id.in_(list(lists)))
        .where(PriceItem.product_id.in_(list(products)))
    )
    found: dict[str, list[PriceRow]] = {}
    for item, name, valid_from in session.execute(query):
        row = PriceRow(str(item.product_id), item.pack_size, item.min_packs, item.price, name, valid_from)
        found.setdefault(str(item.price_list_id), []).append(row)
    return found
