"""Price lists: written as a draft, activated once, then only ended or withdrawn."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import Select, delete, func, insert, select
from sqlalchemy.orm import Session

from service.store import rows
from service.store.ids import new_id
from service.store.models import Organisation, PriceItem, PriceList, ProductRow
from service.store.queue import NOTE_PRICE_CHANGE, enqueue
from service.store.repricing import runs
from service.store.session import org_of

TOLD = 20
"""Packs that a refusal names at most."""


class PriceListFault(ValueError):
    """A price list that cannot be activated as it is."""


@dataclass(frozen=True, slots=True)
class NewPrice:
    """The price of one pack of `pack_size` units, from `min_packs` packs on, and how it came."""

    product_id: UUID
    pack_size: Decimal
    price: Decimal
    min_packs: int = 1
    split: bool = False
    list_price: Decimal | None = None
    per: str = "pack"
    priced_units: Decimal = Decimal(1)
    percent: Decimal = Decimal(0)
    percent_from: str | None = None
    discount_group: str | None = None
    supplier_code: str | None = None


def replace_items(session: Session, list_id: UUID, items: Iterable[NewPrice]) -> None:
    """Write a draft list's prices in place of those it had; IntegrityError where the list is no draft."""
    org_id = org_of(session)
    session.execute(delete(PriceItem).where(PriceItem.org_id == org_id, PriceItem.price_list_id == list_id))
    new = [{"org_id": org_id, "id": new_id(), "price_list_id": list_id, **asdict(item)} for item in items]
    if new:
        session.execute(insert(PriceItem).returning(PriceItem.id), new)  # many rows a statement


def items_of(session: Session, list_id: UUID) -> Sequence[PriceItem]:
    """A list's prices by product, pack size and break."""
    query = select(PriceItem).where(PriceItem.org_id == org_of(session), PriceItem.price_list_id == list_id)
    return session.scalars(
        query.order_by(PriceItem.product_id, PriceItem.pack_size, PriceItem.min_packs)
    ).all()


def rests_on_head(session: Session, list_id: UUID) -> bool:
    """Whether some price was worked out with a percentage of the list's head."""
    query = select(PriceItem.id).where(
        PriceItem.org_id == org_of(session),
        PriceItem.price_list_id == list_id,
        PriceItem.percent_from.in_(["group", "list"]),
    )
    return session.scalar(query.limit(1)) is not None


def activate(
    session: Session, list_id: UUID, version: int | None, at: datetime | None = None
) -> PriceList | None:
    """Put a draft list in force, from its first day or from `at` on, and have the quotes looked through.

    None where the list is not at `version`. PriceListFault where it has no prices or a pack without a price
    from the first pack on; IntegrityError where it is no draft, or where the supplier has an active list of
    the same kind (and reference) from the same day. Quotes are looked through when it begins to hold.
    """
    changed = rows.change(session, PriceList, list_id, version, state="active", holds_from=at)
    if changed is None:
        return None
    _check(session, changed)
    _look_through_quotes(session, list_id, at)
    if session.get_one(Organisation, org_of(session)).automatic_preview:
        runs.add(session, mode="preview", choice="keep", price_list_id=list_id, at=at)
    return changed


def withdraw(session: Session, list_id: UUID, version: int | None) -> PriceList | None:
    """Take an active list out of force from now on; None where it is not at `version`."""
    return rows.change(session, PriceList, list_id, version, state="withdrawn")


def _look_through_quotes(session: Session, list_id: UUID, at: datetime | None) -> None:
    args = {"org_id": str(org_of(session)), "price_list_id": str(list_id)}
    enqueue(session, NOTE_PRICE_CHANGE, args, at=at)


def _check(session: Session, price_list: PriceList) -> None:
    of_list = (PriceItem.org_id == price_list.org_id, PriceItem.price_list_id == price_list.id)
    if session.scalar(select(PriceItem.id).where(*of_list).limit(1)) is None:
        raise PriceListFault("the list has no prices")
    headless = (
        select(ProductRow.name, PriceItem.pack_size)
        .join(ProductRow, (ProductRow.org_id == PriceItem.org_id) & (ProductRow.id == PriceItem.product_id))
        .where(*of_list)
        .group_by(ProductRow.id, ProductRow.name, PriceItem.pack_size)
        .having(func.min(PriceItem.min_packs) > 1)
        .order_by(ProductRow.name, PriceItem.pack_size)
        .limit(TOLD)
    )
    found = session.execute(headless).all()
    if found:
        listed = ", ".join(f"{name} (pack of {size:f})" for name, size in found)
        raise PriceListFault(f"no price from one pack on for {listed}")
    dearer = session.execute(_dearer_breaks(price_list)).all()
    if dearer:
        listed = ", ".join(f"{row.name} (pack of {row.pack_size:f}, from {row.min_packs})" for row in dearer)
        raise PriceListFault(f"a pack costs more than where fewer are bought: {listed}")


def _dearer_breaks(price_list: PriceList) -> Select[tuple[str, Decimal, int]]:
    """Nobody would order at them, and the choice of packs counts on breaks that fall."""
    of_pack = (PriceItem.product_id, PriceItem.pack_size)
    fewer = func.min(PriceItem.price).over(
        partition_by=of_pack, order_by=PriceItem.min_packs, rows=(None, -1)
    )
    known = (
        select(*of_pack, PriceItem.min_packs, (PriceItem.price > fewer).label("dearer"))
        .where(PriceItem.org_id == price_list.org_id, PriceItem.price_list_id == price_list.id)
        .subquery()
    )
    return (
        select(ProductRow.name, known.c.pack_size, known.c.min_packs)
        .join(known, (ProductRow.id == known.c.product_id) & (ProductRow.org_id == price_list.org_id))
        .where(known.c.dearer)
        .order_by(ProductRow.name, known.c.pack_size, known.c.min_packs)
        .limit(TOLD)
    )
