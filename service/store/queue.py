"""The one door to the job queue: a job is deferred in the session's own transaction.

Commit keeps both the work and its job, rollback neither. Tasks are named by string (service/jobs/tasks.py).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from procrastinate import App
from procrastinate.exceptions import AlreadyEnqueued
from procrastinate.sync_psycopg_connector import SyncPsycopgConnector
from sqlalchemy.orm import Session

from service.telemetry import trace

NOTE_PRICE_CHANGE = "office:note_price_change"
BEGIN_REPRICING = "office:begin_repricing"
REPRICE_PART = "office:reprice_part"
REFRESH_BALLPARKS = "office:refresh_ballparks"
DELIVER_WEBHOOK = "office:deliver_webhook"

DEFAULT_QUEUE, WEBHOOKS_QUEUE, BALLPARKS_QUEUE = "default", "webhooks", "ballparks"
QUEUES = {DELIVER_WEBHOOK: WEBHOOKS_QUEUE, REFRESH_BALLPARKS: BALLPARKS_QUEUE}
"""Tasks with a queue of their own, so that slow receivers and the minutes of a fit hold up no other job."""

PRIORITIES = {REFRESH_BALLPARKS: -1_000_000}
"""What takes minutes and nobody waits for comes after the parts of any repricing; all else is 0."""

_deferrer = App(
    connector=SyncPsycopgConnector()
)  # never opened: each job goes through the session's connection


def enqueue(
    session: Session,
    task: str,
    args: dict[str, Any],
    queueing_lock: str | None = None,
    at: datetime | None = None,
) -> bool:
    """Defer one job, for now or for later; False where one with the same queueing lock already waits.

    Jobs with the same queueing lock are done one after the other, lest they hold all workers.
    """
    if queueing_lock is None:
        _defer(session, task, args, None, at)
        return True
    try:
        with session.begin_nested():  # a clash must not abort the caller's transaction
            _defer(session, task, args, queueing_lock, at)
    except AlreadyEnqueued:
        return False
    return True


def enqueue_parts(session: Session, task: str, args: dict[str, Any], parts: Iterable[int]) -> None:
    """Defer one job for each part, the first ones first.

    A part's place is its priority, so that of several runs the one with fewer parts done goes before: a huge
    run lets small ones by.
    """
    connection = session.connection().connection.driver_connection
    carried = {**args, **trace.arguments()}
    for part in parts:
        job = _deferrer.configure_task(task, priority=-part, connection=connection)
        job.defer(**carried, part=part)


def _defer(
    session: Session, task: str, args: dict[str, Any], queueing_lock: str | None, at: datetime | None
) -> None:
    # session.connection() begins the transaction: on a connection taken otherwise the job could be lost
    connection = session.connection().connection.driver_connection
    queue = QUEUES.get(task, DEFAULT_QUEUE)
    job = _deferrer.configure_task(
        task,
        queue=queue,
        priority=PRIORITIES.get(task, 0),
        lock=queueing_lock,
        queueing_lock=queueing_lock,
        schedule_at=at,
        connection=connection,
    )
    job.defer(**args, **trace.arguments())
