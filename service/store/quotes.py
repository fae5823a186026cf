"""Quotes in the database: a quote, its revisions as written, their lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, cast
from uuid import UUID

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session, load_only

from service.store import rows, webhooks
from service.store.life import Kind
from service.store.models import (
    Quote,
    QuoteEvent,
    QuoteLine,
    QuoteOption,
    QuoteRevision,
    QuoteTakeoff,
)
from service.store.revisions import Snapshot, write_revision
from service.store.session import org_of

FOLLOWING = ("state", "current_revision", "offered_revision", "valid_until", "customer_id", "version")
"""What of a quote follows from its events."""
REVISION_HEAD = ("revision", "currency", "net", "tax", "gross", "price_date", "valid_until", "created_at")

NUMBER = text("""
WITH counter AS (
    INSERT INTO quote_counters (org_id, year, last) VALUES (:org_id, :year, 1)
    ON CONFLICT (org_id, year) DO UPDATE SET last = quote_counters.last + 1
    RETURNING last
)
UPDATE quotes
SET number = concat_ws(
    '-', number_prefix, CAST(:year AS integer), lpad(last::text, greatest(4, length(last::text)), '0')
)
FROM counter, organisations
WHERE quotes.org_id = :org_id AND quotes.id = :id AND organisations.org_id = :org_id
RETURNING quotes.*
""")


@dataclass(frozen=True, slots=True)
class Happening:
    """When something happened to a revision, who told it by which key, and what was said of it."""

    at: datetime
    key_id: UUID | None = None
    by: str | None = None
    reference: str | None = None
    note: str | None = None
    scope: Mapping[str, Any] | None = None
    valid_until: date | None = None


@dataclass(frozen=True, slots=True)
class Written:
    """A revision just stored, its quote, and all that happened to the quote so far."""

    quote: Quote
    revision: QuoteRevision
    events: Sequence[QuoteEvent]


def add_quote(
    session: Session, snapshot: Snapshot, happening: Happening, parent_id: UUID | None = None
) -> Written:
    """Store a draft with its first revision. It has no number yet: `give_number` comes last."""
    quote = rows.add(session, Quote, customer_id=snapshot.customer_id, parent_id=parent_id)
    revision = write_revision(session, quote.id, 1, snapshot)
    return Written(quote, revision, (record(session, quote, 1, "draft", happening),))


def add_revision(session: Session, quote: Quote, snapshot: Snapshot, happening: Happening) -> Written:
    """Store a further revision as a draft, in the place of the draft before it; the quote must be locked."""
    before, number = quote.current_revision, quote.current_revision + 1
    had_draft = state_of(session, quote.id, before) == "draft"
    revision = write_revision(session, quote.id, number, snapshot)
    record(session, quote, number, "draft", happening)
    if had_draft:
        record(session, quote, before, "superseded", happening)
    return Written(quote, revision, events_of(session, quote.id))


def record(session: Session, quote: Quote, revision: int, kind: Kind, happening: Happening) -> QuoteEvent:
    """Write down what happened and tell webhooks; IntegrityError where it may not follow on what was before.

    The quote's state and version follow in the database, and `quote` is read again when it is asked for them.
    """
    said = {name: getattr(happening, name) for name in happening.__slots__}
    event = rows.add(session, QuoteEvent, quote_id=quote.id, revision=revision, kind=kind, **said)
    session.expire(quote, FOLLOWING)
    accepted = happening.scope if kind == "accepted" else None
    webhooks.announce_quote(session, quote, revision, kind, happening.at, accepted)
    return event


def lock_quote(session: Session, quote_id: UUID) -> Quote | None:
    """The quote as it is now, nobody else's to change until the transaction ends."""
    return rows.lock(session, Quote, quote_id)


def events_of(session: Session, quote_id: UUID) -> Sequence[QuoteEvent]:
    """What happened to a quote, in order."""
    query = select(QuoteEvent).where(QuoteEvent.org_id == org_of(session), QuoteEvent.quote_id == quote_id)
    return session.scalars(query.order_by(QuoteEvent.position)).all()


def state_of(session: Session, quote_id: UUID, revision: int) -> Kind:
    """The state of a revision: what happened to it last."""
    kinds = [event.kind for event in events_of(session, quote_id) if event.revision == revision]
    return cast(Kind, kinds[-1])


def give_number(session: Session, quote: Quote, year: int) -> str:
    """Number a new quote, prefix-year-count. Do it last: the counter is locked from here to the commit."""
    numbered = select(Quote).from_statement(NUMBER).execution_options(populate_existing=True)
    session.scalars(numbered, {"org_id": org_of(session), "id": quote.id, "year": year}).one()
    return str(quote.number)


def give_variation_number(session: Session, quote: Quote, parent: Quote) -> None:
    """Number a variation after its parent, which the caller has locked: Q-2026-0001-V1, -V2 ..."""
    earlier = select(func.count()).where(Quote.org_id == org_of(session), Quote.parent_id == parent.id)
    quote.number = f"{parent.number}-V{session.scalar(earlier)}"
    session.flush()


def offices_with_run_out(session: Session) -> Sequence[UUID]:
    """Organisations that may have offers past their last day; seen by office_batch bound to none."""
    return session.scalars(select(Quote.org_id).where(Quote.state == "issued").distinct()).all()


def lock_run_out(session: Session, today: date) -> Sequence[Quote]:
    """The organisation's offers past their last day, but for those that somebody is changing just now."""
    query = select(Quote).where(
        Quote.org_id == org_of(session), Quote.state == "issued", Quote.valid_until < today
    )
    return session.scalars(query.with_for_update(skip_locked=True)).all()


def keep_part(session: Session, quote_id: UUID, revision: int, takeoff: Mapping[str, Any]) -> UUID:
    """Keep the take-off of some rooms of a revision, beside what the whole was made of; its id."""
    of_all = session.get_one(QuoteRevision, (org_of(session), quote_id, revision)).takeoff_id
    whole = session.get_one(QuoteTakeoff, (org_of(session), of_all))
    made_of = {"request": whole.request, "basis": whole.basis}
    return rows.add(session, QuoteTakeoff, quote_id=quote_id, takeoff=takeoff, **made_of).id


def takeoff_of(session: Session, takeoff_id: UUID) -> Mapping[str, Any]:
    """A take-off as it was kept."""
    return session.get_one(QuoteTakeoff, (org_of(session), takeoff_id)).takeoff


def find_quote(session: Session, quote_id: UUID) -> Quote | None:
    return rows.find(session, Quote, quote_id)


def find_revision(session: Session, quote_id: UUID, revision: int) -> QuoteRevision | None:
    return session.get(QuoteRevision, (org_of(session), quote_id, revision))


def revisions_of(session: Session, quote_id: UUID) -> Sequence[QuoteRevision]:
    """A quote's revisions, the oldest first, without their snapshots."""
    query = select(QuoteRevision).where(
        QuoteRevision.org_id == org_of(session), QuoteRevision.quote_id == quote_id
    )
    heads = load_only(*(getattr(QuoteRevision, name) for name in REVISION_HEAD), raiseload=True)
    return session.scalars(query.order_by(QuoteRevision.revision).options(heads)).all()


def lines_of(session: Session, quote_id: UUID, revision: int) -> Sequence[QuoteLine]:
    """A revision's lines in their order."""
    query = select(QuoteLine).where(
        QuoteLine.org_id == org_of(session), QuoteLine.quote_id == quote_id, QuoteLine.revision == revision
    )
    return session.scalars(query.order_by(QuoteLine.position)).all()


def options_of(session: Session, quote_id: UUID, revision: int) -> Sequence[QuoteOption]:
    """A revision's options in their order."""
    query = select(QuoteOption).where(
        QuoteOption.org_id == org_of(session),
        QuoteOption.quote_id == quote_id,
        QuoteOption.revision == revision,
    )
    return session.scalars(query.order_by(QuoteOption.position)).all()
