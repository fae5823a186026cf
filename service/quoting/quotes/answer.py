"""What becomes of an offer: accepted by the customer, declined, or withdrawn by the office."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.catalogue import UnknownReference, Versions
from service.quoting.errors import Conflict
from service.quoting.quotes.accepted import keep
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.issue import last_day_of
from service.quoting.quotes.part import Scope, accepted
from service.quoting.quotes.step import ensure, locked, told, unlocked, write
from service.quoting.quotes.stored import StoredQuote, read
from service.store.life import Kind
from service.store.models import Quote


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
    before = unlocked(session, quote_id, expected)
    _on_offer(session, before, said.revision, actor)
    offer = read(session, before, said.revision)
    at = _when(said, offer, actor)
    taken = accepted(offer, said.scope)  # before the lock, since it takes its time
    quote = locked(session, quote_id, expected)
    _on_offer(session, quote, said.revision, actor)
    write(
        session, quote, said.revision, "accepted", actor,
        at=at, by=said.accepted_by, reference=said.reference, scope=keep(session, offer, taken),
    )  # fmt: skip
    return told(session, quote, offer)


def _on_offer(session: Session, quote: Quote, revision: int, actor: Actor) -> None:
    """Conflict for what cannot be accepted any more."""
    ensure(session, quote, revision, "accepted")
    if actor.today(session) > last_day_of(quote):
        raise Conflict(f"revision {revision} was valid until {last_day_of(quote)}: it has expired")


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
    return read(session, quote, number)


def _when(said: Acceptance, offer: StoredQuote, actor: Actor) -> datetime:
    """When it was accepted: not before the offer was made, not later than now; who says nothing means now,
    also by a clock that was set back meanwhile."""
    if said.accepted_at is None:
        return max(actor.now, offer.issued_at or actor.now)
    at = said.accepted_at
    if at > actor.now:
        raise UnknownReference("/accepted_at", "This time has not come yet.")
    if offer.issued_at is not None and at < offer.issued_at:
        raise UnknownReference("/accepted_at", f"The offer was made at {offer.issued_at.isoformat()}.")
    return at
