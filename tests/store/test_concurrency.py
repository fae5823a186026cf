"""Many writers at once, each on a connection of its own: no number twice or left out, no step lost."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime
from threading import Barrier
from uuid import UUID

import pytest
from sqlalchemy import Engine, select

from service.quoting.catalogue import Stale
from service.quoting.errors import Conflict
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.answer import decline, withdraw
from service.quoting.quotes.step import ensure, in_order, locked, write
from service.store import quotes
from service.store.engine import make_engine
from service.store.life import Kind
from service.store.models import Quote
from service.store.session import transaction
from tests.factories import QuoteRevisionFactory
from tests.store.test_quotes import NOW, SNAPSHOT

CREATORS = 50


class Fault(Exception):
    """What fails between the number and the commit."""


def test_fifty_creators_at_once_leave_no_gap_and_no_double(
    live_engine: Engine, org_id: UUID, database_url: str
) -> None:
    """Every fifth of them fails after it was given its number, and so gives it back."""
    engine = make_engine(database_url, pool_size=CREATORS)
    together = Barrier(CREATORS)

    def create(place: int) -> None:
        together.wait()
        with transaction(engine, org_id) as session:
            quote = quotes.add_quote(session, SNAPSHOT, NOW).quote
            quotes.give_number(session, quote, 2026)
            if place % 5 == 0:
                raise Fault

    def tried(place: int) -> None:
        with suppress(Fault):
            create(place)

    with ThreadPoolExecutor(CREATORS) as pool:
        list(pool.map(tried, range(CREATORS)))
    engine.dispose()
    with transaction(live_engine, org_id) as session:
        numbers = session.scalars(select(Quote.number).where(Quote.org_id == org_id)).all()
    assert sorted(str(number) for number in numbers) == [f"Q-2026-{n:04}" for n in range(1, 41)]


def test_variations_are_counted_one_by_one(live_engine: Engine, org_id: UUID, database_url: str) -> None:
    engine = make_engine(database_url, pool_size=8)
    with transaction(live_engine, org_id) as session:
        parent_id = QuoteRevisionFactory(session=session, state="accepted").quote_id

    def vary(_: int) -> str | None:
        with transaction(engine, org_id) as session:
            parent = quotes.lock_quote(session, parent_id)
            assert parent is not None
            quote = quotes.add_quote(session, SNAPSHOT, NOW, parent.id).quote
            quotes.give_variation_number(session, quote, parent)
            return quote.number

    with ThreadPoolExecutor(8) as pool:
        numbers = list(pool.map(vary, range(8)))
    engine.dispose()
    assert sorted(str(number).rpartition("-V")[2] for number in numbers) == [str(n) for n in range(1, 9)]


@pytest.mark.parametrize("by_version", [True, False])
def test_issue_and_revise_at_once_lose_nothing(
    by_version: bool, live_engine: Engine, org_id: UUID, database_url: str
) -> None:
    """Of two who read the same version one is told; without versions both happen, one after the other."""
    expected = frozenset({1}) if by_version else None
    engine = make_engine(database_url, pool_size=2)
    actor = Actor(datetime.now(UTC))
    for _ in range(6):
        with transaction(live_engine, org_id) as session:
            quote_id = quotes.add_quote(session, SNAPSHOT, NOW).quote.id
        together = Barrier(2)

        def issue(quote_id: UUID = quote_id, together: Barrier = together) -> str:
            together.wait()
            with transaction(engine, org_id) as session:
                quote = locked(session, quote_id, expected)
                number = quote.current_revision
                ensure(session, quote, number, "issued")
                write(session, quote, number, "issued", actor, valid_until=actor.now.date())
                return f"issued {number}"

        def revise(quote_id: UUID = quote_id, together: Barrier = together) -> str:
            together.wait()
            with transaction(engine, org_id) as session:
                quote = locked(session, quote_id, expected)
                written = quotes.add_revision(session, quote, SNAPSHOT, actor.says())
                return f"revised to {written.revision.revision}"

        with ThreadPoolExecutor(2) as pool:
            tried = [pool.submit(issue), pool.submit(revise)]
        faults = [one.exception() for one in tried]
        with transaction(live_engine, org_id) as session:
            kinds = [(e.revision, e.kind) for e in quotes.events_of(session, quote_id)]
        if by_version:
            assert [type(fault) for fault in faults if fault] == [Stale]
            assert kinds in ([(1, "draft"), (1, "issued")], [(1, "draft"), (2, "draft"), (1, "superseded")])
        else:
            assert faults == [None, None]
            assert kinds in (
                [(1, "draft"), (1, "issued"), (2, "draft")],
                [(1, "draft"), (2, "draft"), (1, "superseded"), (2, "issued")],
            )
    engine.dispose()


def test_of_two_ends_of_an_offer_one_happens(live_engine: Engine, org_id: UUID, database_url: str) -> None:
    engine = make_engine(database_url, pool_size=2)
    actor = Actor(datetime.now(UTC))
    with transaction(live_engine, org_id) as session:
        quote_id = QuoteRevisionFactory(session=session, state="issued").quote_id
    together = Barrier(2)

    def end(kind: Kind) -> str:
        together.wait()
        with transaction(engine, org_id) as session, in_order():
            quote = locked(session, quote_id, None)
            ensure(session, quote, 1, kind)
            write(session, quote, 1, kind, actor, note="at once")
        return kind

    with ThreadPoolExecutor(2) as pool:
        tried = [pool.submit(end, "declined"), pool.submit(end, "withdrawn")]
    engine.dispose()
    assert [type(one.exception()) for one in tried if one.exception()] == [Conflict]
    with transaction(live_engine, org_id) as session:
        assert len(quotes.events_of(session, quote_id)) == 3
        for step in (decline, withdraw):
            with pytest.raises(Conflict):
                step(session, quote_id, None, None, "again", actor)
