"""One step in a quote's life: the quote locked at the version that was read, the step checked, written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, cast
from uuid import UUID

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.quoting.catalogue import Stale, Versions
from service.quoting.errors import Conflict, NotFound
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.stored import StoredQuote, stored, written_of
from service.store import quotes as store
from service.store.life import Kind, may_follow
from service.store.models import Quote


def locked(session: Session, quote_id: UUID, expected: Versions) -> Quote:
    """The quote, to change; NotFound where there is none, Stale where somebody else changed it since."""
    return _at(store.lock_quote(session, quote_id), expected)


def unlocked(session: Session, quote_id: UUID, expected: Versions) -> Quote:
    """The same, to look at before it is locked."""
    return _at(store.find_quote(session, quote_id), expected)


def _at(quote: Quote | None, expected: Versions) -> Quote:
    if quote is None:
        raise NotFound("quote")
    if expected is not None and quote.version not in expected:
        raise Stale("the quote is at another version")
    return quote


def ensure(session: Session, quote: Quote, revision: int, kind: Kind) -> None:
    """Conflict where this may not happen to the revision any more, NotFound where there is none."""
    if not 1 <= revision <= quote.current_revision:
        raise NotFound("revision of this quote")
    state = store.state_of(session, quote.id, revision)
    if not may_follow(state, kind):
        raise Conflict(f"revision {revision} is {state}, so it cannot become {kind}")


def write(session: Session, quote: Quote, revision: int, kind: Kind, actor: Actor, **said: Any) -> None:
    with in_order():
        store.record(session, quote, revision, kind, actor.says(**said))


def told(session: Session, quote: Quote, before: StoredQuote) -> StoredQuote:
    """The revision after the step: where it stands is read, what was reckoned stays as it was before."""
    written = written_of(session, quote, before.revision)
    return stored(session, written, before.takeoff, before.priced, before.options)


@contextmanager
def in_order() -> Iterator[None]:
    """Tell the database's own refusal of a step as Conflict."""
    try:
        yield
    except IntegrityError as error:
        cause: Any = cast(Any, error.orig)
        if cause.diag.constraint_name != "quote_event_follows":
            raise
        raise Conflict(cause.diag.message_primary) from error
