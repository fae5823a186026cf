"""Runs in the queue: deferred with what makes them necessary, one after the other, paused, resumed, fair."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import Engine, select, text

from service.demo.seed import ORGANISATION
from service.jobs.worker import run_worker
from service.quoting import price_lists
from service.quoting.errors import Conflict
from service.quoting.price_lists import Consent
from service.quoting.quotes import Actor
from service.quoting.repricing import steer
from service.quoting.repricing.begin import begin
from service.settings import load_settings
from service.store.models import Organisation, PriceItem, PriceList, Repricing
from service.store.session import transaction
from tests.repricing import office

ORDER = steer.Order("revise", price_date=date(2026, 3, 2), part_size=1)
NEXT = text(
    "SELECT args ->> 'repricing_id', (args ->> 'part')::integer FROM jobs.procrastinate_jobs"
    " WHERE task_name = 'office:reprice_part' AND status = 'todo' ORDER BY priority DESC, id"
)
SCHEDULED = text(
    "SELECT scheduled_at FROM jobs.procrastinate_jobs WHERE task_name = 'office:begin_repricing'"
)


def ordered(engine: Engine, said: steer.Order = ORDER) -> UUID:
    with transaction(engine, ORGANISATION) as session:
        return steer.order(session, said, Actor(office.NOW)).id


def state(engine: Engine, run_id: UUID) -> str:
    with transaction(engine, ORGANISATION) as session:
        return office.found(session, run_id).state


def steered(engine: Engine, act: Any, run_id: UUID) -> str:
    with transaction(engine, ORGANISATION) as session:
        return str(act(session, run_id).state)


def test_runs_that_revise_go_one_after_the_other(
    live_engine: Engine, batch: Engine, database_url: str
) -> None:
    office.quotes(live_engine, [slice(1, 2), slice(2, 3)])
    office.dearer(live_engine)
    first, second = ordered(live_engine), ordered(live_engine)
    begin(batch, ORGANISATION, first, office.NOW)
    begin(batch, ORGANISATION, second, office.NOW)
    assert [state(live_engine, run) for run in (first, second)] == ["running", "waiting"]
    run_worker(replace(load_settings({}), database_url=database_url), until_idle=True)
    assert [state(live_engine, run) for run in (first, second)] == ["done", "done"]
    with transaction(live_engine, ORGANISATION) as session:
        assert [office.found(session, run).revised for run in (first, second)] == [2, 0]


def test_paused_resumed_cancelled(live_engine: Engine, batch: Engine) -> None:
    office.quotes(live_engine, [slice(1, 2), slice(2, 3)])
    office.dearer(live_engine)
    run_id = ordered(live_engine)
    begin(batch, ORGANISATION, run_id, office.NOW)
    assert [steered(live_engine, steer.pause, run_id) for _ in range(2)] == ["paused", "paused"]
    office.work_off(batch, run_id)
    with transaction(live_engine, ORGANISATION) as session:
        assert office.found(session, run_id).parts_done == 0
    assert [steered(live_engine, steer.resume, run_id) for _ in range(2)] == ["waiting", "waiting"]
    begin(batch, ORGANISATION, run_id, office.NOW)
    office.work_off(batch, run_id)
    assert state(live_engine, run_id) == "done"
    for act in (steer.pause, steer.resume, steer.cancel):
        with pytest.raises(Conflict, match="is done"):
            steered(live_engine, act, run_id)
    other = ordered(live_engine)
    begin(batch, ORGANISATION, other, office.NOW)
    assert [steered(live_engine, steer.cancel, other) for _ in range(2)] == ["cancelled", "cancelled"]
    office.work_off(batch, other)
    with transaction(live_engine, ORGANISATION) as session:
        assert office.found(session, other).visited == 0


def test_a_huge_run_lets_a_small_one_by(live_engine: Engine, batch: Engine) -> None:
    """Jobs are taken by priority, then by age (the rule of the queue itself): round by round."""
    office.quotes(live_engine, [slice(1, 2)] * 6)
    preview = replace(ORDER, mode="preview")
    huge = ordered(live_engine, preview)
    begin(batch, ORGANISATION, huge, office.NOW)
    small = ordered(live_engine, replace(preview, part_size=3))
    begin(batch, ORGANISATION, small, office.NOW)
    with live_engine.connect() as connection:
        waiting = [(UUID(run), part) for run, part in connection.execute(NEXT)]
    assert waiting == [(huge, 0), (small, 0), (huge, 1), (small, 1), *((huge, part) for part in range(2, 6))]


def follow_up(engine: Engine, at: datetime | None, rolled_back: bool = False) -> None:
    with transaction(engine, ORGANISATION) as session:
        session.get_one(Organisation, ORGANISATION).automatic_preview = True
        former = session.scalars(select(PriceList)).first()
        assert former is not None
        item = session.scalars(select(PriceItem).where(PriceItem.price_list_id == former.id)).first()
        assert item is not None
        day = at.date() if at else date(2026, 3, 1)
        head = {"supplier_id": former.supplier_id, "name": "Later", "valid_from": day, "kind": "promotion"}
        new = price_lists.add(session, head)
        price = {
            "product_id": item.product_id,
            "pack_size": item.pack_size,
            "min_packs": 1,
            "price": item.price + 1,
        }
        price_lists.replace_items(session, new.id, None, [price])
        price_lists.activate(session, new.id, None, Consent(at=at, confirm_jumps=True))
        if rolled_back:
            session.rollback()


def test_a_list_and_its_preview_are_one_transaction(live_engine: Engine, batch: Engine) -> None:
    follow_up(live_engine, None, rolled_back=True)
    with live_engine.connect() as connection:
        assert connection.execute(SCHEDULED).all() == []
    follow_up(live_engine, None)
    with transaction(live_engine, ORGANISATION) as session:
        run = session.scalars(select(Repricing)).one()
        assert (run.mode, run.state, run.price_list_id is not None) == ("preview", "waiting", True)


def test_a_list_that_holds_later_is_previewed_at_that_moment(live_engine: Engine, batch: Engine) -> None:
    at = datetime.now(UTC).replace(microsecond=0) + timedelta(days=3)
    follow_up(live_engine, at)
    with live_engine.connect() as connection:
        assert connection.scalars(SCHEDULED).all() == [at]
