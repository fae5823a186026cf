"""Jobs whose worker died in the middle of them.

The queue marks such a worker as gone but leaves its jobs as they are. Here each goes back to the queue, one
try for each job, so that one that cannot go back does not keep the others.
"""

from __future__ import annotations

import logging

from procrastinate.exceptions import AlreadyEnqueued, ConnectorException, UniqueViolation
from procrastinate.jobs import Job, Status
from procrastinate.manager import JobManager
from procrastinate.utils import utcnow

STALLED_AFTER_S = 30
MOST_ATTEMPTS = 5  # a job that has taken this many workers down with it is given up

logger = logging.getLogger(__name__)


async def rescue_stalled(manager: JobManager, stalled_after_s: float = STALLED_AFTER_S) -> None:
    """Put back every job whose worker has shown no sign of life for `stalled_after_s` seconds."""
    for job in await manager.get_stalled_jobs(seconds_since_heartbeat=stalled_after_s):
        try:
            await _rescue(manager, job)
        except ConnectorException:
            logger.exception("job %s could not be rescued", job.id)


async def _rescue(manager: JobManager, job: Job) -> None:
    if job.attempts >= MOST_ATTEMPTS:
        await _give_up(manager, job)
        return
    try:
        await manager.retry_job(job, retry_at=utcnow())
    except (AlreadyEnqueued, UniqueViolation):
        await _give_up(manager, job)  # one with its queueing lock waits already and covers it


async def _give_up(manager: JobManager, job: Job) -> None:
    logger.warning("job %s (%s) is given up after %s attempts", job.id, job.task_name, job.attempts)
    await manager.finish_job(job, status=Status.FAILED, delete_job=False)
