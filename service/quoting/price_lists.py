"""Price lists: written as a draft, activated once, never edited after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import catalogue
from service.quoting.catalogue import Kind, UnknownReference, Versions
from service.quoting.errors import Conflict
from service.store import price_lists as store
from service.store import rows
from service.store.models import PriceItem, PriceList, ProductRow, Supplier

PRICE_LISTS = Kind("price list", PriceList)


def add(session: Session, values: Mapping[str, Any]) -> PriceList:
    """A new draft of a supplier's prices."""
    _supplier(session, values)
    return catalogue.add(session, PRICE_LISTS, values)


def replace(session: Session, list_id: UUID, expected: Versions, values: Mapping[str, Any]) -> PriceList:
    """Another head for a draft."""
    _draft(session, list_id)
    _supplier(session, values)
    return catalogue.replace(session, PRICE_LISTS, list_id, expected, values)


def remove(session: Session, list_id: UUID, expected: Versions) -> None:
    """Delete a draft with its prices."""
    _draft(session, list_id)
    catalogue.remove(session, PRICE_LISTS, list_id, expected)


def items(session: Session, list_id: UUID) -> tuple[PriceList, Sequence[PriceItem]]:
    """A list and its prices by product, pack size and break."""
    return catalogue.get(session, PRICE_LISTS, list_id), store.items_of(session, list_id)


def replace_items(
    session: Session, list_id: UUID, expected: Versions, prices: Sequence[Mapping[str, Any]]
) -> tuple[PriceList, Sequence[PriceItem]]:
    """Write a draft's prices in place of those it had."""
    _draft(session, list_id)
    _products(session, prices)
    changed = catalogue.replace(session, PRICE_LISTS, list_id, expected, {})
    with catalogue.clashes(PRICE_LISTS.word):
        store.replace_items(session, list_id, [store.NewPrice(**price) for price in prices])
    return changed, store.items_of(session, list_id)


def activate(session: Session, list_id: UUID, expected: Versions) -> PriceList:
    """Put a draft in force from its day on; from then on its prices stand."""
    _draft(session, list_id)
    version = catalogue.at_version(session, PRICE_LISTS, list_id, expected)
    try:
        with catalogue.clashes(PRICE_LISTS.word):
            return catalogue.fresh(store.activate(session, list_id, version))
    except store.PriceListFault as fault:
        raise Conflict(str(fault)) from fault


def _draft(session: Session, list_id: UUID) -> None:
    if catalogue.get(session, PRICE_LISTS, list_id).state != "draft":
        raise Conflict("only a draft can be changed; write a new list instead")


def _supplier(session: Session, values: Mapping[str, Any]) -> None:
    if rows.find(session, Supplier, values["supplier_id"]) is None:
        raise UnknownReference("/supplier_id")


def _products(session: Session, prices: Sequence[Mapping[str, Any]]) -> None:
    known = rows.by_ids(session, ProductRow, {price["product_id"] for price in prices})
    for place, price in enumerate(prices):
        if price["product_id"] not in known:
            raise UnknownReference(f"/items/{place}/product_id", "No such product.")
