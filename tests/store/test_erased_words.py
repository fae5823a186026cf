"""What people said of a quote can be emptied once their customer is erased, and nothing else be changed."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import func, select, text, update
from sqlalchemy.exc import IntegrityError, ProgrammingError

from service.store import customers
from service.store.models import Customer, QuoteEvent
from service.store.session import OfficeSession
from tests.factories import CustomerFactory, QuoteEventFactory, QuoteRevisionFactory

WORDS = {"by": "A. Person", "reference": "PO 1", "note": "our cousin said"}


def said_by(session: OfficeSession, customer: Customer) -> QuoteEvent:
    """An event of the customer's own quote that tells who said something."""
    revision = QuoteRevisionFactory(session=session, customer_id=customer.id)
    event: QuoteEvent = QuoteEventFactory(session=session, of_revision=revision, **WORDS)
    return event


def words_of(session: OfficeSession, event: QuoteEvent) -> dict[str, Any]:
    session.refresh(event)
    return {name: getattr(event, name) for name in WORDS}


def change(session: OfficeSession, event: QuoteEvent, **values: Any) -> None:
    with session.begin_nested():
        session.execute(update(QuoteEvent).where(QuoteEvent.id == event.id).values(**values))


def test_erasing_empties_the_words_of_that_customer_alone(session: OfficeSession) -> None:
    gone, stays = CustomerFactory(session=session), CustomerFactory(session=session)
    theirs, others = said_by(session, gone), said_by(session, stays)
    kept = (theirs.kind, theirs.at, theirs.scope, theirs.position)
    assert customers.erase(session, gone.id, None) is not None
    assert words_of(session, theirs) == dict.fromkeys(WORDS)
    assert words_of(session, others) == WORDS
    assert (theirs.kind, theirs.at, theirs.scope, theirs.position) == kept


def test_before_the_erasure_nothing_is_emptied(session: OfficeSession) -> None:
    event = said_by(session, CustomerFactory(session=session))
    for name in WORDS:
        with pytest.raises(IntegrityError, match="never changes"):
            change(session, event, **{name: None})
    assert words_of(session, event) == WORDS


def test_afterwards_nothing_else_is_changed(session: OfficeSession) -> None:
    customer = CustomerFactory(session=session)
    event = said_by(session, customer)
    customer.erased_at = func.now()
    session.flush()
    for name in WORDS:
        with pytest.raises(IntegrityError, match="never changes"):
            change(session, event, **{name: "B. Other"})
    for name, value in (("kind", "accepted"), ("revision", 2), ("at", func.now()), ("scope", {"a": 1})):
        with pytest.raises(ProgrammingError, match="permission denied"):
            change(session, event, **{name: value})
    with pytest.raises(ProgrammingError, match="permission denied"), session.begin_nested():
        session.execute(text("DELETE FROM quote_events"))
    change(session, event, by=None)
    assert words_of(session, event) == {**WORDS, "by": None}


def test_no_table_of_their_own_opens_the_door(session: OfficeSession) -> None:
    """A temporary table of the same name is not what the database asks."""
    event = said_by(session, CustomerFactory(session=session))
    session.execute(text("CREATE TEMP TABLE customers ON COMMIT DROP AS SELECT * FROM public.customers"))
    session.execute(text("UPDATE pg_temp.customers SET erased_at = now()"))
    with pytest.raises(IntegrityError, match="never changes"):
        change(session, event, by=None)
    assert session.scalar(select(func.count()).select_from(QuoteEvent)) == 2
