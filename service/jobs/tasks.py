"""The tasks. Each calls one use case and may run twice: a killed worker's job is taken again."""

from __future__ import annotations

from typing import cast
from uuid import UUID

from procrastinate import Blueprint, JobContext
from sqlalchemy import Engine

from service.jobs.rescue import rescue_stalled
from service.quoting import price_changes
from service.store import idempotency
from service.store.session import transaction

KEEP_FINISHED_HOURS = 7 * 24

tasks = Blueprint()


def _engine(context: JobContext) -> Engine:
    return cast(Engine, context.additional_context["engine"])


@tasks.task(name="note_price_change", pass_context=True)
def note_price_change(context: JobContext, *, org_id: str, price_list_id: str) -> None:
    price_changes.note_price_change(_engine(context), UUID(org_id), UUID(price_list_id))


@tasks.periodic(cron="17 * * * *")
@tasks.task(name="purge_answers", pass_context=True)
def purge_answers(context: JobContext, timestamp: int) -> None:
    """Each hour: forget the stored answers that have expired."""
    with transaction(_engine(context)) as session:
        idempotency.purge_expired(session)


@tasks.periodic(cron="* * * * *")
@tasks.task(name="rescue_jobs", pass_context=True)
async def rescue_jobs(context: JobContext, timestamp: int) -> None:
    """Each minute: put back the jobs whose worker has died. No lock: a stalled rescue would stop the next."""
    await rescue_stalled(context.app.job_manager)


@tasks.periodic(cron="23 3 * * *")
@tasks.task(name="forget_jobs", pass_context=True)
async def forget_jobs(context: JobContext, timestamp: int) -> None:
    """Each night: delete jobs that ended more than a week ago."""
    await context.app.job_manager.delete_old_jobs(
        KEEP_FINISHED_HOURS, include_failed=True, include_cancelled=True, include_aborted=True
    )
