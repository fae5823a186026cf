"""The tasks. Each calls one use case and may run twice: a killed worker's job is taken again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from threading import Event
from typing import cast
from uuid import UUID

from procrastinate import App, JobContext, RetryStrategy
from sqlalchemy import Engine

from service.jobs.rescue import rescue_stalled
from service.jobs.watched import Task, watched
from service.quoting import price_changes
from service.quoting.ballparks import refresh
from service.quoting.quotes import expire
from service.quoting.repricing import begin as repricing_begin
from service.quoting.repricing.part import reprice_part as do_part
from service.quoting.webhooks import deliver
from service.quoting.webhooks.sending import Sender
from service.settings import Settings
from service.store import idempotency, webhooks
from service.store.queue import (
    BEGIN_REPRICING,
    DELIVER_WEBHOOK,
    NOTE_PRICE_CHANGE,
    REFRESH_BALLPARKS,
    REPRICE_PART,
)
from service.store.repricing import runs
from service.store.session import transaction

KEEP_FINISHED_HOURS = 7 * 24
UNRECORDED = RetryStrategy(max_attempts=6, exponential_wait=5)
"""For attempts whose outcome could not be written down; the others have a schedule of their own."""
AGAIN = RetryStrategy(max_attempts=6, wait=1, linear_wait=2)
"""For work whose database may be away for a while."""
GIVEN_UP = "a part was given up after several attempts; resume to try again"


class LeftOff(Exception):
    """The worker stops before the job is done."""


FOR_ANOTHER = RetryStrategy(max_attempts=6, retry_exceptions={LeftOff})


def register(app: App) -> None:
    """Make the tasks known to an app, by the names that the queue's door uses."""
    for name, (task, retry) in ON_DEMAND.items():
        app.task(name=name, pass_context=True, retry=retry)(watched(name, task))
    for task, cron in PERIODIC.items():
        name = f"office:{task.__name__}"
        app.periodic(cron=cron)(app.task(name=name, pass_context=True)(watched(name, task)))


def _engine(context: JobContext) -> Engine:
    return cast(Engine, context.additional_context["engine"])


def note_price_change(context: JobContext, *, org_id: str, price_list_id: str) -> None:
    """Once a price list is activated: mark the open quotes that it touches, then see to the ballparks."""
    price_changes.note_price_change(_engine(context), UUID(org_id), UUID(price_list_id))
    refresh.enqueue_due(_engine(context), only=UUID(org_id))


def deliver_webhook(context: JobContext, *, org_id: str, delivery_id: str) -> None:
    """Once something happened, and again until it is delivered: one attempt to tell a webhook."""
    settings = cast(Settings, context.additional_context["settings"])
    post = deliver.Post(_engine(context), Sender(settings.webhook_test_network), settings.key_pepper)
    deliver.attempt(post, UUID(org_id), UUID(delivery_id))


def begin_repricing(context: JobContext, *, org_id: str, repricing_id: str) -> None:
    """Set a repricing going once it is its turn."""
    repricing_begin.begin(_engine(context), UUID(org_id), UUID(repricing_id), datetime.now(UTC))


def reprice_part(context: JobContext, *, org_id: str, repricing_id: str, part: int) -> None:
    """Reprice the quotes of one part; done before, it does nothing."""
    do_part(_engine(context), UUID(org_id), UUID(repricing_id), part, datetime.now(UTC))


def tend_repricings(context: JobContext, timestamp: int) -> None:
    """Each minute: tell that a repricing stands still because jobs of it were given up."""
    engine = _engine(context)
    with transaction(engine) as session:
        found = runs.left_behind(session)
    for org_id, run_id in found:
        with transaction(engine, org_id) as session:
            repricing_begin.fail(session, run_id, GIVEN_UP)


def refresh_ballparks(context: JobContext, *, org_id: str) -> None:
    """Fit one organisation's ballpark models where its prices, rates or terms have changed; a worker that
    stops leaves it to another, who begins anew."""
    stopping = cast(Event, context.additional_context["stopping"])
    refresh.refresh(_engine(context), UUID(org_id), datetime.now(UTC), going_on=lambda: _leave_off(stopping))


def _leave_off(stopping: Event) -> None:
    if stopping.is_set():
        raise LeftOff


def look_at_ballparks(context: JobContext, timestamp: int) -> None:
    """Every ten minutes: see whose ballpark models are out of date; prices also change as days begin."""
    refresh.enqueue_due(_engine(context))


def purge_answers(context: JobContext, timestamp: int) -> None:
    """Each hour: forget the stored answers that have expired."""
    with transaction(_engine(context)) as session:
        idempotency.purge_expired(session)


def expire_quotes(context: JobContext, timestamp: int) -> None:
    """Each quarter of an hour, as time zones begin their days: expire the offers that ran out."""
    expire.expire_due(_engine(context), datetime.now(UTC))


def purge_webhook_events(context: JobContext, timestamp: int) -> None:
    """Each night: forget what webhooks were told a month ago."""
    with transaction(_engine(context)) as session:
        webhooks.purge_old(session)


async def rescue_jobs(context: JobContext, timestamp: int) -> None:
    """Each minute: put back the jobs whose worker has died. No lock: a stalled rescue would stop the next."""
    await rescue_stalled(context.app.job_manager)


async def forget_jobs(context: JobContext, timestamp: int) -> None:
    """Each night: delete jobs that ended more than a week ago."""
    await context.app.job_manager.delete_old_jobs(
        KEEP_FINISHED_HOURS, include_failed=True, include_cancelled=True, include_aborted=True
    )


ON_DEMAND: Mapping[str, tuple[Task, RetryStrategy | bool]] = {
    NOTE_PRICE_CHANGE: (note_price_change, False),
    DELIVER_WEBHOOK: (deliver_webhook, UNRECORDED),
    BEGIN_REPRICING: (begin_repricing, AGAIN),
    REPRICE_PART: (reprice_part, AGAIN),
    REFRESH_BALLPARKS: (refresh_ballparks, FOR_ANOTHER),
}
"""By name, with when they are tried again after a fault."""

PERIODIC: Mapping[Task, str] = {
    purge_answers: "17 * * * *",
    expire_quotes: "*/15 * * * *",
    purge_webhook_events: "41 3 * * *",
    rescue_jobs: "* * * * *",
    tend_repricings: "* * * * *",
    forget_jobs: "23 3 * * *",
    look_at_ballparks: "*/10 * * * *",
}
"""When, in cron's notation and UTC."""
