"""Price lists: written as a draft, activated once, never edited after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from service.quoting import catalogue, office
from service.quoting.catalogue import Kind, UnknownReference, Versions
from service.quoting.errors import Conflict
from service.quoting.stated_prices import new_price
from service.store import price_changes, rows
from service.store import price_lists as store
from service.store.models import PriceItem, PriceList, ProductRow, Supplier

PRICE_LISTS = Kind("price list", PriceList)
UNSTATED: Mapping[str, Any] = {
    "price": None,
    "min_packs": 1,
    "list_price": None,
    "per": "pack",
    "m2_per_pack": None,
    "percent": None,
    "discount_group": None,
    "split": False,
    "supplier_code": None,
}
"""What a price is taken to state where it says nothing."""


def add(session: Session, values: Mapping[str, Any]) -> PriceList:
    """A new draft of a supplier's prices."""
    _supplier(session, values)
    return catalogue.add(session, PRICE_LISTS, values)


def replace(session: Session, list_id: UUID, expected: Versions, values: Mapping[str, Any]) -> PriceList:
    """Another head for a draft; Conflict where prices rest on percentages that it changes."""
    before = draft(session, list_id)
    _supplier(session, values)
    granted = [(before.list_percent, before.discounts), (values["list_percent"], values["discounts"])]
    if granted[0] != granted[1] and store.rests_on_head(session, list_id):
        raise Conflict("prices of the list rest on its percentages; take the prices out first")
    return catalogue.replace(session, PRICE_LISTS, list_id, expected, values)


def remove(session: Session, list_id: UUID, expected: Versions) -> None:
    """Delete a draft with its prices."""
    draft(session, list_id)
    catalogue.remove(session, PRICE_LISTS, list_id, expected)


def items(session: Session, list_id: UUID) -> tuple[PriceList, Sequence[PriceItem]]:
    """A list and its prices by product, pack size and break."""
    return catalogue.get(session, PRICE_LISTS, list_id), store.items_of(session, list_id)


def replace_items(
    session: Session, list_id: UUID, expected: Versions, prices: Sequence[Mapping[str, Any]]
) -> tuple[PriceList, Sequence[PriceItem]]:
    """Write a draft's prices in place of those it had."""
    priced = _priced(session, draft(session, list_id), prices)
    changed = catalogue.replace(session, PRICE_LISTS, list_id, expected, {"rejected_rows": 0})
    with catalogue.clashes(PRICE_LISTS.word):
        store.replace_items(session, list_id, priced)
    return changed, store.items_of(session, list_id)


@dataclass(frozen=True, slots=True)
class Consent:
    """When a list is to hold from, None for its first day on, and what the office says it has seen."""

    at: datetime | None = None
    accept_rejected: bool = False
    confirm_jumps: bool = False


def activate(
    session: Session, list_id: UUID, expected: Versions, consent: Consent | None = None
) -> PriceList:
    """Put a draft in force; from then on its prices stand.

    Conflict where rows of its import were left out, or prices move by more than the organisation's limit, and
    neither is consented to.
    """
    consent = consent or Consent()
    price_list = draft(session, list_id)
    version = catalogue.at_version(session, PRICE_LISTS, list_id, expected)
    _seen(session, price_list, consent)
    _not_before_first_day(session, price_list, consent.at)
    try:
        with catalogue.clashes(PRICE_LISTS.word):
            return catalogue.fresh(store.activate(session, list_id, version, consent.at))
    except store.PriceListFault as fault:
        raise Conflict(str(fault)) from fault


def withdraw(session: Session, list_id: UUID, expected: Versions) -> PriceList:
    """Take an active list out of force from now on; what it held until now can still be asked."""
    if catalogue.get(session, PRICE_LISTS, list_id).state != "active":
        raise Conflict("only an active list can be withdrawn")
    version = catalogue.at_version(session, PRICE_LISTS, list_id, expected)
    return catalogue.fresh(store.withdraw(session, list_id, version))


def draft(session: Session, list_id: UUID) -> PriceList:
    """The list, where it is still a draft; Conflict where it is not."""
    price_list = catalogue.get(session, PRICE_LISTS, list_id)
    if price_list.state != "draft":
        raise Conflict("only a draft can be changed; write a new list instead")
    return price_list


def _seen(session: Session, price_list: PriceList, consent: Consent) -> None:
    if price_list.rejected_rows and not consent.accept_rejected:
        left_out = f"{price_list.rejected_rows} rows of the list's import were left out"
        raise Conflict(f"{left_out}; activate with accept_rejected if the list is to go live without them")
    if consent.confirm_jumps:
        return
    jumps, limit = price_changes.jumps_of(session, price_list, consent.at)
    if jumps:
        moved = f"{jumps} prices move by more than {limit.normalize():f} percent"
        raise Conflict(f"{moved}; activate with confirm_jumps if they are right")


def _not_before_first_day(session: Session, price_list: PriceList, at: datetime | None) -> None:
    if at is None:
        return
    zone = ZoneInfo(office.organisation(session).time_zone)
    if at.astimezone(zone).date() < price_list.valid_from:
        raise UnknownReference("/at", "Before the list's first day.")


def _supplier(session: Session, values: Mapping[str, Any]) -> None:
    if rows.find(session, Supplier, values["supplier_id"]) is None:
        raise UnknownReference("/supplier_id")


def _priced(
    session: Session, price_list: PriceList, prices: Sequence[Mapping[str, Any]]
) -> list[store.NewPrice]:
    known = rows.by_ids(session, ProductRow, {price["product_id"] for price in prices})
    found = []
    for place, price in enumerate(prices):
        product = known.get(price["product_id"])
        if product is None:
            raise UnknownReference(f"/items/{place}/product_id", "No such product.")
        found.append(new_price({**UNSTATED, **price}, product, price_list, f"/items/{place}"))
    return found
