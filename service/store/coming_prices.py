"""What is known to change in prices on days to come: lists and agreements that begin or end."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from decimal import Decimal
from uuid import UUID

from sqlalchemy import func, select, union
from sqlalchemy.orm import Session

from service.store.in_force import day_of, held
from service.store.models import Agreement, PriceItem, PriceList
from service.store.session import org_of

Prices = dict[tuple[UUID, UUID, Decimal], list[tuple[int, Decimal]]]
"""Prices from so many packs on, by supplier, product and pack size; in the supplier's currency."""


def days_of_change(
    session: Session, suppliers: Collection[UUID], after: date, until: date, job_offers: Collection[UUID]
) -> Sequence[date]:
    """The days after `after` up to `until` on which a supplier's list or agreement begins, or has ended."""
    org_id, wanted = org_of(session), list(suppliers)
    lists = (
        PriceList.org_id == org_id,
        PriceList.supplier_id.in_(wanted),
        PriceList.state == "active",
        (PriceList.kind != "job_offer") | PriceList.id.in_(list(job_offers)),
    )
    agreements = (Agreement.org_id == org_id, Agreement.supplier_id.in_(wanted))
    begins = func.greatest(PriceList.valid_from, day_of(org_id, PriceList.holds_from))
    days = union(
        select(begins.label("day")).where(*lists),
        select(PriceList.valid_until + 1).where(*lists),
        select(Agreement.valid_from).where(*agreements),
        select(Agreement.valid_until + 1).where(*agreements),
    ).subquery()
    query = select(days.c.day).where(days.c.day > after, days.c.day <= until).order_by(days.c.day)
    return session.scalars(query).all()


def prices_on(
    session: Session,
    suppliers: Collection[UUID],
    products: Collection[UUID],
    day: date,
    job_offers: Collection[UUID],
) -> Prices:
    """What packs of these products cost on a day, by what is known now."""
    of_them = PriceList.supplier_id.in_(list(suppliers)), PriceItem.product_id.in_(list(products))
    sold = held(org_of(session), day, job_offers, *of_them).subquery()
    found: Prices = {}
    for row in session.execute(select(sold).order_by(sold.c.min_packs)):
        pack = (row.supplier_id, row.product_id, row.pack_size.normalize())
        found.setdefault(pack, []).append((row.min_packs, row.price))
    return found
