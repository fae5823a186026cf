"""What the database refuses once a quote is stored, whoever asks: neither more lines nor other numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from uuid import UUID

import pytest
from sqlalchemy import Engine, insert, text
from sqlalchemy.exc import IntegrityError

from service.store import quotes
from service.store.engine import make_engine
from service.store.models import Quote, QuoteLine
from service.store.session import OfficeSession, open_session, transaction
from tests.store.test_quote_events import happening
from tests.store.test_quotes import LINE, NOW, OPTION, SNAPSHOT

FURTHER_LINES = """
INSERT INTO quote_lines (
    org_id, quote_id, revision, position, kind, role, uplift_group, description, quantity, unit, cost, price,
    amount
)
SELECT org_id, quote_id, revision, 9, kind, role, uplift_group, description, quantity, unit, cost, price,
    amount
FROM quote_lines WHERE position = 1
"""
FURTHER_OPTIONS = """
INSERT INTO quote_options (org_id, quote_id, revision, position, name, request, takeoff, priced)
SELECT org_id, quote_id, revision, 9, 'Further', request, takeoff, priced FROM quote_options
"""
AGAIN = """
INSERT INTO quote_revisions (
    org_id, quote_id, revision, takeoff_id, conditions_id, rest, price_date, currency, trade_edition,
    engine_version, written_in
)
SELECT org_id, quote_id, {revision}, takeoff_id, conditions_id, rest, price_date, currency, trade_edition,
    engine_version, 0
FROM quote_revisions
"""
REFUSED = {
    FURTHER_LINES: "nothing joins",
    FURTHER_OPTIONS: "nothing joins",
    AGAIN.format(revision=0): "follows on the last",
    AGAIN.format(revision=3): "follows on the last",
    "UPDATE quotes SET number = 'Q-2026-0009'": "numbered once",
    "UPDATE quotes SET number = NULL": "numbered once",
    "UPDATE quotes SET version = version - 1": "follows on the last",
    "UPDATE quotes SET version = version + 2": "follows on the last",
    "UPDATE quote_counters SET last = last - 1": "only goes up",
    "UPDATE quote_counters SET last = last": "only goes up",
    "UPDATE quote_counters SET year = 2027, last = last + 1": "only goes up",
}
TABLES = (
    "quotes", "quote_revisions", "quote_lines", "quote_options", "quote_takeoffs", "quote_conditions",
    "quote_events", "quote_counters",
)  # fmt: skip


@pytest.fixture
def org_id(live_engine: Engine, org_id: UUID) -> UUID:
    """An organisation with one quote that was issued."""
    with transaction(live_engine, org_id) as session:
        quote = quotes.add_quote(session, replace(SNAPSHOT, options=[OPTION]), NOW).quote
        quotes.give_number(session, quote, 2026)
        quotes.record(session, quote, 1, "issued", happening("issued"))
    return org_id


@pytest.fixture(params=["office_app", "office_batch", "office_owner"])
def anybody(request: pytest.FixtureRequest, org_id: UUID, database_url: str) -> Iterator[OfficeSession]:
    engine = make_engine(database_url, request.param)
    with open_session(engine, org_id) as session:
        yield session
    engine.dispose()


def test_a_stored_quote_is_sealed(anybody: OfficeSession) -> None:
    for statement, said in REFUSED.items():
        with pytest.raises(IntegrityError, match=said), anybody.begin_nested():
            anybody.execute(text(statement))


def test_not_even_the_owner_empties_a_table_of_quotes(org_id: UUID, database_url: str) -> None:
    owner = make_engine(database_url, "office_owner")
    with owner.connect() as connection:
        for table in TABLES:
            with pytest.raises(IntegrityError, match="never changes"), connection.begin_nested():
                connection.execute(text(f"TRUNCATE {table} CASCADE"))
    owner.dispose()


def test_a_further_revision_is_open_under_savepoints_until_the_commit(
    live_engine: Engine, org_id: UUID
) -> None:
    with transaction(live_engine, org_id) as session:
        quote = session.query(Quote).one()
        with session.begin_nested():
            number = quotes.add_revision(session, quote, SNAPSHOT, NOW).revision.revision
        with session.begin_nested():
            key = {"org_id": org_id, "quote_id": quote.id, "revision": number}
            session.execute(insert(QuoteLine), [{**key, "position": 9, **LINE}])
        quote_id = quote.id
    with transaction(live_engine, org_id) as session:
        assert len(quotes.lines_of(session, quote_id, number)) == 3
        assert len(quotes.lines_of(session, quote_id, 1)) == 2
        with pytest.raises(IntegrityError, match="nothing joins"), session.begin_nested():
            session.execute(insert(QuoteLine), [{**key, "position": 10, **LINE}])


def test_an_offer_is_superseded_by_what_is_issued_after_it_and_nothing_less(
    live_engine: Engine, org_id: UUID
) -> None:
    with transaction(live_engine, org_id) as session:
        quotes.add_revision(session, session.query(Quote).one(), SNAPSHOT, NOW)
    with pytest.raises(IntegrityError, match="issued after it"), transaction(live_engine, org_id) as session:
        quotes.record(session, session.query(Quote).one(), 1, "superseded", NOW)
    with transaction(live_engine, org_id) as session:
        quote = session.query(Quote).one()
        quotes.record(session, quote, 1, "superseded", NOW)
        quotes.record(session, quote, 2, "issued", happening("issued"))
    with transaction(live_engine, org_id) as session:
        assert session.query(Quote).one().offered_revision == 2


@pytest.mark.parametrize("missing", ["by", "reference"])
def test_an_acceptance_says_who_and_by_which_reference(
    missing: str, live_engine: Engine, org_id: UUID
) -> None:
    said = replace(happening("accepted"), **{missing: None})
    with (
        pytest.raises(IntegrityError, match="names who accepted"),
        transaction(live_engine, org_id) as session,
    ):
        quotes.record(session, session.query(Quote).one(), 1, "accepted", said)
