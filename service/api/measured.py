"""What is measured when metrics are read: whether the database answers, and what waits in its queue."""

from __future__ import annotations

from collections.abc import Iterator

from prometheus_client.metrics_core import GaugeMetricFamily, Metric
from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from service.store.queue_depth import Depth, depth
from service.store.session import transaction

WAITING, OLDEST, UP = "floors_queue_jobs", "floors_queue_oldest_seconds", "floors_database_up"


def measured(engine: Engine) -> Iterator[Metric]:
    """Of a database that does not answer only that it does not."""
    try:
        with transaction(engine) as session:
            found = depth(session)
    except SQLAlchemyError:
        yield GaugeMetricFamily(UP, "Whether the database answers.", value=0)
        return
    yield GaugeMetricFamily(UP, "Whether the database answers.", value=1)
    yield from _queue(list(found))


def _queue(found: list[Depth]) -> Iterator[Metric]:
    waiting = GaugeMetricFamily(WAITING, "Jobs by task and state.", labels=["queue", "task", "status"])
    oldest = GaugeMetricFamily(
        OLDEST, "Since when the oldest job that is due waits.", labels=["queue", "task"]
    )
    for row in found:
        waiting.add_metric([row.queue, row.task, row.status], row.jobs)
        if row.oldest_s is not None:
            oldest.add_metric([row.queue, row.task], float(row.oldest_s))
    yield waiting
    yield oldest
