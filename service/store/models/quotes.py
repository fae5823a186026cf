"""Quotes as stored: the quote, its revisions (a snapshot each) and their lines."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ForeignKeyConstraint, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import (
    Amount,
    Base,
    Changeable,
    Currency,
    ExactPrice,
    Identified,
    OrgRow,
    Quantity,
    UnitPrice,
    one_of,
    within_org,
)

STATES = ("draft", "issued", "accepted", "declined", "withdrawn", "expired")


class Quote(Identified, Changeable, Base):
    """`number` is given as the last act of the transaction that stores the quote."""

    __tablename__ = "quotes"
    __table_args__ = (
        within_org("customer_id", "customers"),
        one_of("state", *STATES),
        UniqueConstraint("org_id", "number"),
        Index(None, "org_id", "created_at", "id"),
        Index(None, "org_id", "customer_id"),
    )

    number: Mapped[str | None]
    state: Mapped[str] = mapped_column(default="draft", server_default="draft")
    current_revision: Mapped[int]
    customer_id: Mapped[UUID | None]
    prices_changed_at: Mapped[datetime | None]


class QuoteRevision(OrgRow, Base):
    """What was asked, taken off and priced, with the versions it came from. Only `state` ever changes."""

    __tablename__ = "quote_revisions"
    __table_args__ = (
        within_org("quote_id", "quotes"),
        within_org("labour_table_id", "labour_tables"),
        within_org("terms_id", "terms"),
        one_of("state", *STATES, "superseded"),
    )

    quote_id: Mapped[UUID] = mapped_column(primary_key=True)
    revision: Mapped[int] = mapped_column(primary_key=True)
    state: Mapped[str] = mapped_column(default="draft", server_default="draft")
    request: Mapped[dict[str, Any]]
    takeoff: Mapped[dict[str, Any]]
    priced: Mapped[dict[str, Any]]
    basis: Mapped[dict[str, Any]]  # rates, terms and own trade values, as they were
    price_date: Mapped[date]
    valid_until: Mapped[date | None]
    currency: Mapped[Currency]
    net: Mapped[Amount | None]
    tax: Mapped[Amount | None]
    gross: Mapped[Amount | None]
    trade_edition: Mapped[str]
    labour_table_id: Mapped[UUID | None]
    terms_id: Mapped[UUID | None]
    engine_version: Mapped[str]


class QuoteLine(OrgRow, Base):
    """One line of a revision; `cost` per pack or hour, `amount` at cost, `price` what the customer pays."""

    __tablename__ = "quote_lines"
    __table_args__ = (
        ForeignKeyConstraint(
            ["org_id", "quote_id", "revision"],
            ["quote_revisions.org_id", "quote_revisions.quote_id", "quote_revisions.revision"],
        ),
        within_org("supplier_id", "suppliers"),
        within_org("product_id", "products"),
        within_org("price_list_id", "price_lists"),
        one_of("kind", "material", "labour", "delivery", "adjustment"),
        Index(None, "org_id", "product_id"),
    )

    quote_id: Mapped[UUID] = mapped_column(primary_key=True)
    revision: Mapped[int] = mapped_column(primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str]
    role: Mapped[str]
    description: Mapped[str]
    supplier_id: Mapped[UUID | None]
    product_id: Mapped[UUID | None]
    price_list_id: Mapped[UUID | None]
    packs: Mapped[int | None]
    pack_size: Mapped[Quantity | None]
    quantity: Mapped[Quantity]
    unit: Mapped[str]
    cost: Mapped[ExactPrice]
    price: Mapped[UnitPrice]
    amount: Mapped[UnitPrice]


class QuoteCounter(OrgRow, Base):
    """The last quote number given in a year."""

    __tablename__ = "quote_counters"

    year: Mapped[int] = mapped_column(primary_key=True)
    last: Mapped[int]
