"""Repricings as stored: runs over many quotes, what they work with, their parts, what they found."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import Index, Numeric, text
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import (
    Base,
    Changeable,
    Exact,
    Identified,
    OrgRow,
    Percent,
    UnitPrice,
    one_of,
    within_org,
)

STATES = ("waiting", "running", "paused", "cancelled", "done", "failed")
OUTCOMES = ("changed", "conflict", "unpriceable")


def _count() -> Any:
    return mapped_column(default=0, server_default=text("0"))


class Repricing(Identified, Changeable, Base):
    """A run. Its counts grow with each part that is done, in that part's transaction.

    `worked_from` and `worked_before` are when it was last set going and the quotes looked at by then.
    """

    __tablename__ = "repricings"
    __table_args__ = (
        within_org("key_id", "api_keys"),
        within_org("price_list_id", "price_lists"),
        one_of("mode", "preview", "revise"),
        one_of("choice", "keep", "choose"),
        one_of("state", *STATES),
        Index(None, "org_id", "created_at", "id"),
    )

    key_id: Mapped[UUID | None]
    mode: Mapped[str]
    choice: Mapped[str]
    threshold: Mapped[UnitPrice] = mapped_column(default=Decimal(0), server_default=text("0"))
    limit_percent: Mapped[Decimal | None] = mapped_column(Numeric(9, 4))
    limit_amount: Mapped[UnitPrice | None]
    margin_floor_percent: Mapped[Percent] = mapped_column(default=Decimal(0), server_default=text("0"))
    selection: Mapped[dict[str, Any]] = mapped_column(default=dict, server_default=text("'{}'"))
    price_list_id: Mapped[UUID | None]
    price_date: Mapped[date | None]  # None until it begins: then the office's day
    part_size: Mapped[int] = mapped_column(default=1000, server_default=text("1000"))
    state: Mapped[str] = mapped_column(default="waiting", server_default="waiting")
    failure: Mapped[str | None]
    began_at: Mapped[datetime | None]
    ended_at: Mapped[datetime | None]
    worked_from: Mapped[datetime | None]
    worked_before: Mapped[int] = _count()
    parts: Mapped[int | None]
    parts_done: Mapped[int] = _count()
    selected: Mapped[int | None]
    looked_at: Mapped[int] = _count()
    visited: Mapped[int] = _count()
    changed: Mapped[int] = _count()
    revised: Mapped[int] = _count()
    conflicts: Mapped[int] = _count()
    within_limits: Mapped[int] = _count()
    unpriceable: Mapped[int] = _count()
    summary: Mapped[dict[str, Any] | None]


class RepricingPart(OrgRow, Base):
    """A range of quotes, done in one transaction."""

    __tablename__ = "repricing_parts"
    __table_args__ = (within_org("repricing_id", "repricings"),)

    repricing_id: Mapped[UUID] = mapped_column(primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True)
    first_quote: Mapped[UUID]
    last_quote: Mapped[UUID]
    done_at: Mapped[datetime | None]


class RepricingPrice(OrgRow, Base):
    """A price in force when the run began: `stated` by the supplier, `price` in the office's currency."""

    __tablename__ = "repricing_prices"
    __table_args__ = (within_org("repricing_id", "repricings"),)

    repricing_id: Mapped[UUID] = mapped_column(primary_key=True)
    supplier_id: Mapped[UUID] = mapped_column(primary_key=True)
    product_id: Mapped[UUID] = mapped_column(primary_key=True)
    pack_size: Mapped[Exact] = mapped_column(primary_key=True)
    from_packs: Mapped[int] = mapped_column(primary_key=True)
    below_packs: Mapped[int | None]
    price_list_id: Mapped[UUID]
    price: Mapped[Exact]
    stated: Mapped[Exact]
    split: Mapped[bool]
    changed_at: Mapped[datetime | None]  # when it last became another, where baskets are made anew
    begins: Mapped[date | None]  # the first day on which it counts
    since: Mapped[datetime | None]  # when something beside the list last changed that the price comes from


class RepricingSupplier(OrgRow, Base):
    """What a supplier charged when the run began, in the office's currency."""

    __tablename__ = "repricing_suppliers"
    __table_args__ = (within_org("repricing_id", "repricings"),)

    repricing_id: Mapped[UUID] = mapped_column(primary_key=True)
    supplier_id: Mapped[UUID] = mapped_column(primary_key=True)
    name: Mapped[str]
    delivery_charge: Mapped[Exact]
    free_delivery_over: Mapped[Exact | None]
    freight_per_kg: Mapped[Exact]
    carry_in: Mapped[Exact]
    split_pack_surcharge: Mapped[Exact]
    minimum_order: Mapped[Exact | None]
    lead_time_days: Mapped[int] = mapped_column(server_default=text("0"))
    region: Mapped[str | None]
    exchange: Mapped[dict[str, Any] | None]


class RepricingRole(OrgRow, Base):
    """When prices of a role's products last changed, and the last day on which one began to count.

    `selected` where the run is about one of them.
    """

    __tablename__ = "repricing_roles"
    __table_args__ = (within_org("repricing_id", "repricings"),)

    repricing_id: Mapped[UUID] = mapped_column(primary_key=True)
    role: Mapped[str] = mapped_column(primary_key=True)
    changed_at: Mapped[datetime]
    begins: Mapped[date]
    selected: Mapped[bool]


class RepricingConditions(OrgRow, Base):
    """What takes the place of conditions that quotes were priced by, for a kind of customer."""

    __tablename__ = "repricing_conditions"
    __table_args__ = (
        within_org("repricing_id", "repricings"),
        within_org("old_id", "quote_conditions"),
        within_org("new_id", "quote_conditions"),
    )

    repricing_id: Mapped[UUID] = mapped_column(primary_key=True)
    old_id: Mapped[UUID] = mapped_column(primary_key=True)
    buyer: Mapped[str] = mapped_column(primary_key=True)
    new_id: Mapped[UUID]
    other_terms: Mapped[bool]
    minor: Mapped[int]
    half_even: Mapped[bool]
    valid_days: Mapped[int]
    hourly_charge: Mapped[Exact | None]
    old_hourly_charge: Mapped[Exact | None]
    charge_note: Mapped[str] = mapped_column(server_default="")  # what lines of hours say of the charge


class RepricingChange(OrgRow, Base):
    """What a run found of one quote whose figures move, or that it could not reprice."""

    __tablename__ = "repricing_changes"
    __table_args__ = (
        within_org("repricing_id", "repricings"),
        within_org("quote_id", "quotes"),
        one_of("outcome", *OUTCOMES),
    )

    repricing_id: Mapped[UUID] = mapped_column(primary_key=True)
    quote_id: Mapped[UUID] = mapped_column(primary_key=True)
    outcome: Mapped[str]
    state: Mapped[str]  # of the quote
    revision: Mapped[int]
    new_revision: Mapped[int | None]
    old_cost: Mapped[Exact | None]
    old_net: Mapped[Exact | None]
    old_gross: Mapped[Exact | None]
    new_cost: Mapped[Exact | None]
    new_net: Mapped[Exact | None]
    new_gross: Mapped[Exact | None]
    causes: Mapped[list[Any]] = mapped_column(server_default=text("'[]'"))
    note: Mapped[str] = mapped_column(server_default="")

    @property
    def id(self) -> UUID:
        return self.quote_id
