"""A run begins: its prices, charges and conditions are fixed, its quotes parted, its jobs deferred."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import Engine, func, select
from sqlalchemy.orm import Session

from service.quoting import office
from service.quoting.errors import QuotingError
from service.quoting.office import local_day
from service.quoting.repricing.conditions import followers
from service.quoting.repricing.finish import end
from service.quoting.snapshot import to_json
from service.store.exchange_rates import rates_into
from service.store.models import Repricing
from service.store.repricing import plan, runs
from service.store.repricing.selection import STATES, Selection
from service.store.session import transaction


def begin(engine: Engine, org_id: UUID, run_id: UUID, now: datetime) -> None:
    """Set a waiting run going, or let it wait on where another one is writing revisions.

    Nothing happens to a run that does not wait, so that doing it twice does no harm. What the office has not
    set up fails the run.
    """
    try:
        with transaction(engine, org_id) as session:
            _begin(session, run_id, now)
    except QuotingError as refused:
        with transaction(engine, org_id) as session:
            fail(session, run_id, str(refused))


def fail(session: Session, run_id: UUID, why: str) -> None:
    """End a run that cannot go on; it can be resumed."""
    runs.one_at_a_time(session)
    run = runs.lock(session, run_id)
    if run is not None and run.state in ("waiting", "running"):
        run.failure = why
        end(session, run, "failed")


def _begin(session: Session, run_id: UUID, now: datetime) -> None:
    runs.one_at_a_time(session)
    run = runs.lock(session, run_id)
    if run is None or run.state != "waiting" or (run.mode == "revise" and runs.other_revises(session, run)):
        return
    if run.parts is None:
        _fix(session, run, now)
    run.state, run.failure = "running", None
    run.worked_from, run.worked_before = now, run.looked_at
    session.flush()
    if run.parts_done == run.parts:
        end(session, run, "done")
    else:
        runs.defer_parts(session, run)


def _fix(session: Session, run: Repricing, now: datetime) -> None:
    run.began_at = session.scalar(select(func.now()))
    organisation = office.organisation(session)
    run.price_date = run.price_date or local_day(now, organisation.time_zone)
    rates = rates_into(session, organisation.currency, run.price_date).by_currency
    exchanges = {name: to_json(rate) for name, rate in rates.items()}
    plan.fix_prices(session, run.id, run.price_date, exchanges)
    plan.fix_conditions(session, run.id, list(followers(session, run.price_date, rates)))
    selection = selection_of(run, organisation.time_zone)
    if run.choice == "choose":
        plan.fix_changes(session, run, selection)
    run.selected, parts = plan.part_out(session, run, selection)
    run.parts = len(parts)


def selection_of(run: Repricing, time_zone: str) -> Selection:
    """The run's selection, its days as the moments at which they begin where the office works."""
    said: Mapping[str, Any] = run.selection
    zone = ZoneInfo(time_zone)
    return Selection(
        states=tuple(said.get("states") or STATES),
        created_from=_begins(said.get("created_from"), zone),
        created_before=_begins(said.get("created_to"), zone, later=1),
        valid_from=_day(said.get("valid_from")),
        valid_to=_day(said.get("valid_to")),
        customers=_ids(said.get("customers")),
        products=_ids(said.get("products")),
        price_list=run.price_list_id,
    )


def _day(said: str | None) -> date | None:
    return None if said is None else date.fromisoformat(said)


def _begins(said: str | None, zone: ZoneInfo, later: int = 0) -> datetime | None:
    day = _day(said)
    return None if day is None else datetime.combine(day + timedelta(days=later), time(), zone)


def _ids(said: list[str] | None) -> tuple[UUID, ...] | None:
    return None if said is None else tuple(map(UUID, said))
