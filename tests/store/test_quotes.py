from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from sqlalchemy import Engine, text
from sqlalchemy.exc import IntegrityError, ProgrammingError

from service.store import quote_lists, quotes, rows
from service.store.engine import make_engine
from service.store.ids import new_id
from service.store.revisions import OF_REVISION, Snapshot
from service.store.session import OfficeSession, open_session, org_of
from tests.factories import (
    CustomerFactory,
    OrganisationFactory,
    QuoteFactory,
    QuoteRevisionFactory,
)

LINE = {
    "kind": "labour",
    "role": "labour",
    "description": "Laying membrane",
    "uplift_group": "labour",
    "unit": "h",
    "quantity": Decimal("3.25"),
    "cost": Decimal("38.0000"),
    "price": Decimal("150.00"),
    "amount": Decimal("123.50"),
}
OPTION = {"name": "Other", "request": {"name": "Other"}, "takeoff": {"rooms": []}, "priced": {}}
SUMS = {"net": Decimal("300.00"), "tax": Decimal("24.75"), "gross": Decimal("324.75")}
SNAPSHOT = Snapshot(
    request={"rooms": [{"name": "Hall"}]},
    takeoff={"rooms": []},
    conditions={"terms": {}},
    lines=[LINE, {**LINE, "description": "Setting"}],
    sums=SUMS,
    rest={"taxes": []},
    price_date=date(2026, 3, 1),
    valid_until=date(2026, 3, 31),
    currency="USD",
    trade_edition="2026-01-01/us",
    basis={},
    labour_table_id=None,
    terms_id=None,
    engine_version="1",
)


NOW = quotes.Happening(datetime.now(UTC))


def test_a_quote_reads_back_as_stored(session: OfficeSession) -> None:
    customer = CustomerFactory(session=session)
    quote = quotes.add_quote(session, replace(SNAPSHOT, customer_id=customer.id), NOW).quote
    assert quotes.give_number(session, quote, 2026) == "Q-2026-0001"
    session.commit()
    session.expire_all()
    found = quotes.find_quote(session, quote.id)
    assert found is not None
    assert (found.number, found.state, found.current_revision, found.customer_id) == (
        "Q-2026-0001",
        "draft",
        1,
        customer.id,
    )
    revision = quotes.find_revision(session, quote.id, 1)
    assert revision is not None
    kept = [*OF_REVISION, "request", "takeoff"]
    expected = {name: getattr(SNAPSHOT, name) for name in kept} | SUMS | {"customer_id": customer.id}
    assert {name: getattr(revision, name) for name in expected} == expected
    assert revision.basis == {**SNAPSHOT.basis, **SNAPSHOT.conditions, "versions": {}}
    lines = quotes.lines_of(session, quote.id, 1)
    assert [(row.position, row.description, row.amount) for row in lines] == [
        (1, "Laying membrane", Decimal("123.5000")),
        (2, "Setting", Decimal("123.5000")),
    ]


def test_numbers_count_up_by_year_and_organisation(session: OfficeSession) -> None:
    numbers = [
        quotes.give_number(session, quotes.add_quote(session, SNAPSHOT, NOW).quote, year)
        for year in (2026, 2026, 2027)
    ]
    assert numbers == ["Q-2026-0001", "Q-2026-0002", "Q-2027-0001"]


def test_the_ten_thousandth_number_is_whole(session: OfficeSession) -> None:
    session.execute(
        text("INSERT INTO quote_counters (org_id, year, last) VALUES (:org, 2026, 9999)"),
        {"org": org_of(session)},
    )
    assert quotes.give_number(session, quotes.add_quote(session, SNAPSHOT, NOW).quote, 2026) == "Q-2026-10000"


def test_a_number_that_is_rolled_back_is_given_again(session: OfficeSession) -> None:
    with session.begin_nested() as savepoint:
        quotes.give_number(session, quotes.add_quote(session, SNAPSHOT, NOW).quote, 2026)
        savepoint.rollback()
    assert quotes.give_number(session, quotes.add_quote(session, SNAPSHOT, NOW).quote, 2026) == "Q-2026-0001"


def test_a_draft_takes_the_place_of_the_draft_before(session: OfficeSession) -> None:
    quote = quotes.add_quote(session, SNAPSHOT, NOW).quote
    unpriced = replace(SNAPSHOT, sums=dict.fromkeys(SUMS), lines=[])
    assert quotes.add_revision(session, quote, unpriced, NOW).revision.revision == 2
    assert (quote.current_revision, quote.offered_revision, quote.state) == (2, None, "draft")
    assert [quotes.state_of(session, quote.id, n) for n in (1, 2)] == ["superseded", "draft"]
    assert quote.version == 3


def test_a_draft_beside_an_offer_leaves_the_offer_standing(session: OfficeSession) -> None:
    quote = QuoteFactory(session=session)
    QuoteRevisionFactory(session=session, quote=quote, state="issued")
    quotes.add_revision(session, quote, SNAPSHOT, NOW)
    assert (quote.current_revision, quote.offered_revision, quote.state) == (2, 1, "issued")
    assert quote.standing_revision == 1
    assert [quotes.state_of(session, quote.id, n) for n in (1, 2)] == ["issued", "draft"]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE quote_revisions SET net = 1",
        "UPDATE quote_takeoffs SET takeoff = '{\"rooms\": [1]}'",
        "UPDATE quote_conditions SET body = '{}'",
        "DELETE FROM quote_takeoffs",
        "UPDATE quote_revisions SET gross = NULL",
        "UPDATE quote_lines SET amount = 0",
        "DELETE FROM quote_lines",
        "UPDATE quote_options SET priced = '{}'",
        "DELETE FROM quote_revisions",
        "UPDATE quote_events SET kind = 'accepted'",
        "DELETE FROM quote_events",
    ],
)
def test_not_even_the_owner_changes_a_stored_revision(
    statement: str, live_engine: Engine, database_url: str
) -> None:
    owner = make_engine(database_url, "office_owner")
    try:
        with open_session(owner, new_id()) as session:
            OrganisationFactory(session=session, org_id=org_of(session))
            quotes.add_quote(session, replace(SNAPSHOT, options=[OPTION]), NOW)
            with pytest.raises(IntegrityError, match="never changes"):
                session.execute(text(statement))
    finally:
        owner.dispose()


def test_quotes_are_not_deleted_by_the_service(session: OfficeSession) -> None:
    quotes.add_quote(session, SNAPSHOT, NOW)
    with pytest.raises(ProgrammingError, match="permission denied"), session.begin_nested():
        session.execute(text("DELETE FROM quotes"))


def test_pages_meet_without_gap_or_overlap(session: OfficeSession) -> None:
    states = [("draft", "issued")[n % 2] for n in range(7)]
    made = [QuoteRevisionFactory(session=session, state=state).quote_id for state in states]
    session.commit()
    seen, after = [], None
    while page := [quote for quote, *_ in quote_lists.list_heads(session, 3, after)]:
        seen += [quote.id for quote in page]
        after = rows.cursor_of(page[-1])
    assert seen == sorted(made, reverse=True)
    issued = quote_lists.list_heads(session, 9, wanted=quote_lists.Filter(state="issued"))
    assert [quote.id for quote, *_ in issued] == sorted(made[1::2], reverse=True)
