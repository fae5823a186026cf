"""Jobs and the transaction that makes them necessary; a worker that runs them; workers that die."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import UUID

import psycopg
import pytest
from sqlalchemy import Engine, text

from service.jobs.app import make_app
from service.jobs.rescue import MOST_ATTEMPTS
from service.jobs.worker import run_worker
from service.settings import load_settings
from service.store import price_lists, rows
from service.store.engine import libpq_url, startup_options
from service.store.models import PriceList, Quote
from service.store.queue import DELIVER_WEBHOOK, NOTE_PRICE_CHANGE, enqueue
from service.store.session import open_session, transaction
from tests.factories import (
    PriceItemFactory,
    PriceListFactory,
    QuoteFactory,
    QuoteLineFactory,
)
from tests.jobs.rescuing import rescue

ROOT = Path(__file__).parents[2]


def jobs(engine: Engine) -> list[tuple[str, str]]:
    query = "SELECT task_name, status::text FROM jobs.procrastinate_jobs ORDER BY id"
    with engine.connect() as connection:
        return [tuple(row) for row in connection.execute(text(query))]


def test_a_job_comes_and_goes_with_its_transaction(live_engine: Engine, org_id: UUID) -> None:
    with open_session(live_engine, org_id) as session:
        enqueue(session, "office:some_task", {"n": 1})
        session.rollback()
        assert jobs(live_engine) == []
        enqueue(session, "office:some_task", {"n": 2})
        assert jobs(live_engine) == []
        session.commit()
        assert jobs(live_engine) == [("office:some_task", "todo")]


def test_a_second_job_under_the_same_queueing_lock_costs_nothing(live_engine: Engine, org_id: UUID) -> None:
    with transaction(live_engine, org_id) as session:
        assert enqueue(session, "office:some_task", {"n": 1}, queueing_lock="one")
        assert not enqueue(session, "office:some_task", {"n": 2}, queueing_lock="one")
        assert enqueue(session, "office:some_task", {"n": 3}, queueing_lock="two")
        QuoteFactory(session=session)
    assert len(jobs(live_engine)) == 2
    with transaction(live_engine, org_id) as session:
        assert len(rows.page(session, Quote, 9)) == 1


def test_a_worker_marks_the_quotes_of_an_activated_list(
    live_engine: Engine, org_id: UUID, database_url: str
) -> None:
    with transaction(live_engine, org_id) as session:
        item = PriceItemFactory(session=session)
        old = rows.find(session, PriceList, item.price_list_id)
        assert old is not None
        quote = QuoteFactory(session=session)
        line = QuoteLineFactory(
            session=session, of_revision__quote=quote, supplier_id=old.supplier_id, product_id=item.product_id
        )
        dearer = PriceListFactory(session=session, supplier_id=old.supplier_id, valid_from=date(2026, 4, 1))
        PriceItemFactory(
            session=session, price_list=dearer, product_id=item.product_id, price=line.cost + Decimal(1)
        )
        price_lists.activate(session, dearer.id, 1)
    run_worker(replace(load_settings({}), database_url=database_url), until_idle=True)
    assert (NOTE_PRICE_CHANGE, "succeeded") in jobs(live_engine)
    with transaction(live_engine, org_id) as session:
        marked = rows.find(session, Quote, quote.id)
        assert marked is not None
        assert marked.prices_changed_at is not None


@pytest.fixture
def queue(live_engine: Engine, database_url: str) -> Iterator[psycopg.Connection[Any]]:
    """A connection with a worker's rights."""
    options = startup_options("office_batch")
    with psycopg.connect(libpq_url(database_url), options=options, autocommit=True) as connection:
        yield connection


def left_behind(queue: psycopg.Connection[Any], lock: str | None = None, attempts: int = 0) -> int:
    """A job as a killed worker leaves it once the queue has forgotten that worker."""
    row = queue.execute(
        "INSERT INTO procrastinate_jobs (queue_name, task_name, status, queueing_lock, attempts)"
        " VALUES ('default', 'office:some_task', 'doing', %s, %s) RETURNING id",
        [lock, attempts],
    ).fetchone()
    assert row is not None
    return int(row[0])


def waiting(queue: psycopg.Connection[Any], lock: str) -> int:
    row = queue.execute(
        "INSERT INTO procrastinate_jobs (queue_name, task_name, queueing_lock)"
        " VALUES ('default', 'office:some_task', %s) RETURNING id",
        [lock],
    ).fetchone()
    assert row is not None
    return int(row[0])


def status(queue: psycopg.Connection[Any]) -> dict[int, str]:
    return dict(queue.execute("SELECT id, status::text FROM procrastinate_jobs").fetchall())


def test_jobs_left_behind_go_back_one_by_one(queue: psycopg.Connection[Any], database_url: str) -> None:
    """The second cannot go back, since a successor waits under its queueing lock; the others still do."""
    first, blocked = left_behind(queue), left_behind(queue, "same")
    successor, last = waiting(queue, "same"), left_behind(queue)
    worn_out = left_behind(queue, attempts=MOST_ATTEMPTS)
    rescue(database_url)
    assert status(queue) == {
        first: "todo",
        blocked: "failed",
        successor: "todo",
        last: "todo",
        worn_out: "failed",
    }


def test_a_living_workers_job_stays_with_it(queue: psycopg.Connection[Any], database_url: str) -> None:
    job = left_behind(queue)
    worker = queue.execute("INSERT INTO procrastinate_workers DEFAULT VALUES RETURNING id").fetchone()
    assert worker is not None
    queue.execute("UPDATE procrastinate_jobs SET worker_id = %s", [worker[0]])
    rescue(database_url)
    assert status(queue) == {job: "doing"}
    queue.execute("UPDATE procrastinate_workers SET last_heartbeat = now() - interval '31 seconds'")
    rescue(database_url)
    assert status(queue) == {job: "todo"}


SLOW_WORKER = """
import asyncio, sys, time
from service.jobs.app import make_app
app = make_app(sys.argv[1])
@app.task(name="slow:some_task", queue="slow")
def some_task() -> None:
    print("started", flush=True)
    time.sleep(60)
async def work():
    async with app.open_async():
        await app.run_worker_async(queues=["slow"])
asyncio.run(work())
"""


def test_a_killed_workers_job_is_taken_again(queue: psycopg.Connection[Any], database_url: str) -> None:
    job = queue.execute(
        "INSERT INTO procrastinate_jobs (queue_name, task_name)"
        " VALUES ('slow', 'slow:some_task') RETURNING id"
    ).fetchone()
    assert job is not None
    command = [sys.executable, "-c", SLOW_WORKER, database_url]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as worker:
        assert worker.stdout is not None
        assert worker.stdout.readline() == b"started\n"
        worker.kill()
    assert status(queue)[job[0]] == "doing"
    time.sleep(0.6)
    rescue(database_url, stalled_after_s=0.5)
    assert status(queue)[job[0]] == "todo"


def test_every_task_that_the_store_names_exists(database_url: str) -> None:
    app = make_app(database_url)
    assert {NOTE_PRICE_CHANGE, DELIVER_WEBHOOK} <= app.tasks.keys()
    periodic = {task.task.name for task in app.periodic_registry.periodic_tasks.values()}
    assert periodic == {
        "office:purge_answers",
        "office:expire_quotes",
        "office:purge_webhook_events",
        "office:rescue_jobs",
        "office:tend_repricings",
        "office:look_at_ballparks",
        "office:forget_jobs",
    }
