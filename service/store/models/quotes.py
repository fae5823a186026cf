"""Quotes as stored: the quote, its revisions (a snapshot each) and what happened to them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, Self
from uuid import UUID

from sqlalchemy import BigInteger, FetchedValue, ForeignKeyConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column, relationship
from sqlalchemy.orm.attributes import set_committed_value

from service.store.life import KINDS, QUOTE_STATES
from service.store.models.base import (
    Base,
    Changeable,
    Currency,
    Exact,
    Identified,
    OrgRow,
    one_of,
    within_org,
)


class Quote(Identified, Changeable, Base):
    """`number` is given as the last act of the transaction that stores the quote.

    Revisions, state, validity, customer and version follow from the quote's events by a trigger; nobody else
    may write them.
    """

    __tablename__ = "quotes"
    __table_args__ = (
        within_org("customer_id", "customers"),
        within_org("parent_id", "quotes"),
        one_of("state", *QUOTE_STATES),
        UniqueConstraint("org_id", "number"),
        Index(None, "org_id", "created_at", "id"),
        Index(None, "org_id", "state", "created_at", "id"),
        Index(None, "org_id", "customer_id"),
        Index(None, "org_id", "parent_id"),
        Index("quotes_on_offer_idx", "valid_until", postgresql_where=text("state = 'issued'")),
    )

    number: Mapped[str | None]
    state: Mapped[str] = mapped_column(server_default="draft")
    current_revision: Mapped[int] = mapped_column(server_default=text("1"))  # the newest, maybe a draft
    offered_revision: Mapped[int | None] = mapped_column(server_default=FetchedValue())  # the newest issued
    valid_until: Mapped[date | None] = mapped_column(server_default=FetchedValue())  # of the offer
    customer_id: Mapped[UUID | None]
    parent_id: Mapped[UUID | None]  # the accepted quote that this one varies
    prices_changed_at: Mapped[datetime | None]

    @property
    def standing_revision(self) -> int:
        """The revision whose state is the quote's: the offer while it counts, else the draft."""
        return (
            self.current_revision if self.state == "draft" else self.offered_revision or self.current_revision
        )


class QuoteTakeoff(Identified, Base):
    """What was asked and taken off, with the rates and own trade values it rests on. It never changes.

    Revisions that differ in prices only share it. `request` names the customer by id only, so that personal
    data can go while the figures stay.
    """

    __tablename__ = "quote_takeoffs"
    __table_args__ = (within_org("quote_id", "quotes"), Index(None, "org_id", "quote_id"))

    quote_id: Mapped[UUID]
    request: Mapped[dict[str, Any]]
    takeoff: Mapped[dict[str, Any]]
    basis: Mapped[dict[str, Any]]


class QuoteConditions(Identified, Base):
    """Terms with their taxes, exchange rates and the versions of both, as they were. It never changes.

    The id follows from the content, so that all revisions priced alike share one row.
    """

    __tablename__ = "quote_conditions"

    body: Mapped[dict[str, Any]]


class QuoteRevision(OrgRow, Base):
    """What was priced, with the versions it came from. It never changes.

    `written_in` is the database's number of the transaction that wrote it: lines and options written in any
    other are refused.

    `rest` holds what of the prices is neither a line nor a total of its own column: taxes, stages, basket,
    notices; it is empty where there is no price.
    """

    __tablename__ = "quote_revisions"
    __table_args__ = (
        within_org("quote_id", "quotes"),
        within_org("takeoff_id", "quote_takeoffs"),
        within_org("conditions_id", "quote_conditions"),
        within_org("labour_table_id", "labour_tables"),
        within_org("terms_id", "terms"),
        within_org("customer_id", "customers"),
    )

    quote_id: Mapped[UUID] = mapped_column(primary_key=True)
    revision: Mapped[int] = mapped_column(primary_key=True)
    takeoff_id: Mapped[UUID]
    conditions_id: Mapped[UUID]
    rest: Mapped[dict[str, Any]]
    price_date: Mapped[date]
    valid_until: Mapped[date | None]
    currency: Mapped[Currency]
    materials: Mapped[Exact | None]
    delivery: Mapped[Exact | None]
    labour: Mapped[Exact | None]
    contingency: Mapped[Exact | None]
    markup: Mapped[Exact | None]
    discount: Mapped[Exact | None]
    minimum_charge: Mapped[Exact | None]
    rounding: Mapped[Exact | None]
    net: Mapped[Exact | None]
    tax: Mapped[Exact | None]
    gross: Mapped[Exact | None]
    deposit: Mapped[Exact | None]
    retention: Mapped[Exact | None]
    trade_edition: Mapped[str]
    labour_table_id: Mapped[UUID | None]
    terms_id: Mapped[UUID | None]
    customer_id: Mapped[UUID | None]
    engine_version: Mapped[str]
    written_in: Mapped[int] = mapped_column(BigInteger(), server_default=FetchedValue())

    _taken: Mapped[QuoteTakeoff] = relationship(viewonly=True)
    _conditions: Mapped[QuoteConditions] = relationship(viewonly=True)

    def rests_on(self, taken: QuoteTakeoff, conditions: Mapping[str, Any]) -> Self:
        """Itself, just written, with what it points at, which then need not be read back."""
        priced = QuoteConditions(org_id=self.org_id, id=self.conditions_id, body=dict(conditions))
        set_committed_value(self, "_taken", taken)
        set_committed_value(self, "_conditions", priced)
        return self

    @property
    def request(self) -> dict[str, Any]:
        return self._taken.request

    @property
    def takeoff(self) -> dict[str, Any]:
        return self._taken.takeoff

    @property
    def basis(self) -> dict[str, Any]:
        """Rates, terms and own trade values, as they were."""
        taken, priced = self._taken.basis, self._conditions.body
        return {**taken, **priced, "versions": {**taken.get("versions", {}), **priced.get("versions", {})}}


class QuoteEvent(Identified, Base):
    """Something that happened to a revision. The table only grows; `position` counts a quote's events.

    Only `by`, `reference` and `note` can be emptied, once the revision's customer is erased.

    `at` is when it happened, `by` who said so outside (who accepted), `key_id` whose program told it,
    `scope` what of the revision was taken, with its figures.
    """

    __tablename__ = "quote_events"
    __table_args__ = (
        ForeignKeyConstraint(
            ["org_id", "quote_id", "revision"],
            ["quote_revisions.org_id", "quote_revisions.quote_id", "quote_revisions.revision"],
        ),
        within_org("key_id", "api_keys"),
        one_of("kind", *KINDS),
        UniqueConstraint("org_id", "quote_id", "position"),
    )

    quote_id: Mapped[UUID]
    revision: Mapped[int]
    position: Mapped[int] = mapped_column(server_default=text("0"))  # counted by the database
    kind: Mapped[str]
    at: Mapped[datetime]
    key_id: Mapped[UUID | None]
    by: Mapped[str | None]
    reference: Mapped[str | None]
    note: Mapped[str | None]
    scope: Mapped[dict[str, Any] | None]
    valid_until: Mapped[date | None]  # of an issue: the last day on which it may be accepted


class QuoteCounter(OrgRow, Base):
    """The last quote number given in a year."""

    __tablename__ = "quote_counters"

    year: Mapped[int] = mapped_column(primary_key=True)
    last: Mapped[int]
