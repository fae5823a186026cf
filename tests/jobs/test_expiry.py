"""Offers expire by their office's own calendar, once, for all organisations."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import UUID

import pytest
from sqlalchemy import Engine

from service.quoting.quotes.expire import expire_due
from service.store import quotes, rows
from service.store.ids import new_id
from service.store.models import Quote
from service.store.session import org_of, transaction
from tests.factories import OrganisationFactory, QuoteRevisionFactory

LAST_DAY = date(2026, 3, 31)


def offer(engine: Engine, time_zone: str, state: str = "issued") -> tuple[UUID, UUID]:
    with transaction(engine, new_id()) as session:
        OrganisationFactory(session=session, org_id=org_of(session), time_zone=time_zone)
        row = QuoteRevisionFactory(session=session, state=state, valid_until=LAST_DAY)
        return org_of(session), row.quote_id


def state_of(engine: Engine, found: tuple[UUID, UUID]) -> str:
    with transaction(engine, found[0]) as session:
        quote = rows.find(session, Quote, found[1])
        assert quote is not None
        return quote.state


@pytest.mark.parametrize(
    ("time_zone", "last_moment"),
    [
        ("UTC", datetime(2026, 3, 31, 23, 59, tzinfo=UTC)),
        ("America/Los_Angeles", datetime(2026, 4, 1, 6, 59, tzinfo=UTC)),  # UTC-7 in summer time
        ("Pacific/Kiritimati", datetime(2026, 3, 31, 9, 59, tzinfo=UTC)),  # UTC+14, the earliest of all
    ],
)
def test_the_last_day_ends_where_the_office_works(
    time_zone: str, last_moment: datetime, live_engine: Engine, batch: Engine
) -> None:
    found = offer(live_engine, time_zone)
    assert expire_due(batch, last_moment) == 0
    assert state_of(live_engine, found) == "issued"
    assert expire_due(batch, last_moment + timedelta(minutes=1)) == 1
    assert state_of(live_engine, found) == "expired"


def test_expiring_again_changes_nothing_and_leaves_all_else(live_engine: Engine, batch: Engine) -> None:
    offers = [offer(live_engine, "UTC") for _ in range(3)]
    others = {state: offer(live_engine, "UTC", state) for state in ("draft", "accepted", "withdrawn")}
    now = datetime(2026, 5, 1, tzinfo=UTC)
    assert [expire_due(batch, now) for _ in range(2)] == [3, 0]
    assert {state_of(live_engine, found) for found in offers} == {"expired"}
    assert all(state_of(live_engine, found) == state for state, found in others.items())
    with transaction(live_engine, offers[0][0]) as session:
        last = quotes.events_of(session, offers[0][1])[-1]
        assert (last.kind, last.at, last.key_id) == ("expired", now, None)


def test_the_service_itself_sees_no_other_organisations_offers(live_engine: Engine, batch: Engine) -> None:
    offer(live_engine, "UTC")
    with transaction(live_engine) as session:
        assert quotes.offices_with_run_out(session) == []
    with transaction(batch) as session:
        assert len(quotes.offices_with_run_out(session)) == 1


def test_a_quote_that_is_being_changed_is_left_for_the_next_time(live_engine: Engine, batch: Engine) -> None:
    org_id, quote_id = offer(live_engine, "UTC")
    now = datetime(2026, 5, 1, tzinfo=UTC)
    with transaction(live_engine, org_id) as session:
        assert quotes.lock_quote(session, quote_id) is not None
        assert expire_due(batch, now) == 0
    assert expire_due(batch, now) == 1
