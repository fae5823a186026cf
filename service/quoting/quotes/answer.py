"""What becomes of an offer: accepted by the customer, declined, or withdrawn by the office."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.catalogue import UnknownReference, Versions
from service.quoting.errors import Conflict
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.issue import last_day_of
from service.quoting.quotes.part import Scope, accepted_figures
from service.quoting.quotes.step import ensure, locked, told, write
from service.quoting.quotes.stored import StoredQuote, read
from service.store.life import Kind


@dataclass(frozen=True, slots=True)
class Acceptance:
    """Who accepted which revision, when (None: now), under which reference of theirs, and how much of it."""

    revision: int
    accepted_by: str
    reference: str
    accepted_at: datetime | None = None
    scope: Scope | None = None


def accept(
    session: Session, quote_id: UUID, expected: Versions, said: Acceptance, actor: Actor
) -> StoredQuote:
    """Record that the customer took the offer.

    Conflict for a revision that is not on offer any more, its last day gone by included, even where the
    expiry itself was not recorded yet: what counts is the day on which the office records the acceptance.
    """
    quote = locked(session, quote_id, expected)
    ensure(session, quote, said.revision, "accepted")
    if actor.today(session) > last_day_of(quote):
        raise Conflict(f"revision {said.revision} was valid until {last_day_of(quote)}: it has expired")
    offer = read(session, quote, said.revision)
    at = _when(said, offer, actor)
    figures = accepted_figures(session, offer, said.scope)
    write(
        session, quote, said.revision, "accepted", actor,
        at=at, by=said.accepted_by, reference=said.reference, scope=figures,
    )  # fmt: skip
    return told(session, quote, said.revision)


def decline(
    session: Session, quote_id: UUID, expected: Versions, revision: int | None, reason: str, actor: Actor
) -> StoredQuote:
    """Record that the customer does not want the offer."""
    return _end(session, quote_id, expected, revision, "declined", reason, actor)


def withdraw(
    session: Session, quote_id: UUID, expected: Versions, revision: int | None, reason: str, actor: Actor
) -> StoredQuote:
    """Take back the offer, or without one the draft."""
    return _end(session, quote_id, expected, revision, "withdrawn", reason, actor)


def _end(
    session: Session,
    quote_id: UUID,
    expected: Versions,
    revision: int | None,
    kind: Kind,
    reason: str,
    actor: Actor,
) -> StoredQuote:
    quote = locked(session, quote_id, expected)
    number = revision or quote.standing_revision
    ensure(session, quote, number, kind)
    write(session, quote, number, kind, actor, note=reason)
    return told(session, quote, number)


def _when(said: Acceptance, offer: StoredQuote, actor: Actor) -> datetime:
    """When it was accepted: not before the offer was made, not later than now."""
    at = said.accepted_at or actor.now
    if at > actor.now:
        raise UnknownReference("/accepted_at", "This time has not come yet.")
    if offer.issued_at is not None and at < offer.issued_at:
        raise UnknownReference("/accepted_at", f"The offer was made at {offer.issued_at.isoformat()}.")
    return at
