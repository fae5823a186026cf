"""How many jobs wait, and for how long the oldest that is due has."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sqlalchemy import text
from sqlalchemy.orm import Session

DEPTH = text("""
SELECT queue_name, task_name, status::text AS status, count(*) AS jobs,
    max(extract(epoch FROM now() - coalesce(job.scheduled_at, deferred.at)))
        FILTER (WHERE status = 'todo' AND coalesce(job.scheduled_at, now()) <= now()) AS oldest_s
FROM jobs.procrastinate_jobs AS job
LEFT JOIN jobs.procrastinate_events AS deferred ON deferred.job_id = job.id AND deferred.type = 'deferred'
WHERE status IN ('todo', 'doing')
GROUP BY 1, 2, 3
""")


class Depth(NamedTuple):
    """Jobs of one task in one state; `oldest_s` only where some are due and wait."""

    queue: str
    task: str
    status: str
    jobs: int
    oldest_s: float | None


def depth(session: Session) -> Sequence[Depth]:
    return [Depth(*row) for row in session.execute(DEPTH)]
