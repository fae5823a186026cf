"""What is counted and timed, in the names of Prometheus' text format.

Labels take few values: routes, methods, statuses, tasks and outcomes. Never a tenant, an id or an address.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from functools import lru_cache

from prometheus_client import (
    REGISTRY,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    disable_created_metrics,
    generate_latest,
)
from prometheus_client.exposition import CONTENT_TYPE_LATEST
from prometheus_client.metrics_core import Metric
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from service.telemetry.sharing import FOLDER

CONTENT_TYPE = CONTENT_TYPE_LATEST
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
OTHER = "other"

disable_created_metrics()  # type: ignore[no-untyped-call] # a second series for each, which nobody asks for

_REQUEST_S = (0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
_STATEMENT_S = (0.001, 0.005, 0.025, 0.1, 0.5, 2.5, 10)
_JOB_S = (0.05, 0.25, 1, 5, 15, 60, 300, 900)

REQUESTS = Counter("floors_http_requests_total", "Answers.", ["method", "route", "status"])
REQUEST_S = Histogram(
    "floors_http_request_seconds", "From request to answer.", ["method", "route"], buckets=_REQUEST_S
)
BALLPARKS = Counter("floors_ballparks_total", "Ballparks asked for.", ["outcome"])
JOBS = Counter("floors_jobs_total", "Jobs that ended.", ["task", "outcome"])
JOB_S = Histogram("floors_job_seconds", "How long jobs ran.", ["task"], buckets=_JOB_S)
REPRICED = Counter("floors_repriced_quotes_total", "Quotes that repricings looked at.", ["outcome"])
STATEMENT_S = Histogram("floors_statement_seconds", "How long SQL statements ran.", buckets=_STATEMENT_S)
SLOW_STATEMENTS = Counter("floors_slow_statements_total", "SQL statements over the limit of the log.")
CONNECTIONS = Gauge(
    "floors_pool_connections", "Database connections that are open.", multiprocess_mode="livesum"
)
IN_USE = Gauge("floors_pool_connections_in_use", "Database connections at work.", multiprocess_mode="livesum")


def answered(method: str, route: str, status: int, seconds: float) -> None:
    """Count an answer under the route's template; what leads nowhere has one name for all."""
    counter, histogram = _series(method if method in METHODS else OTHER, route, status)
    counter.inc()
    histogram.observe(seconds)


@lru_cache(maxsize=2000)
def _series(method: str, route: str, status: int) -> tuple[Counter, Histogram]:
    """Finding them by their labels takes longer than counting."""
    return REQUESTS.labels(method, route, str(status)), REQUEST_S.labels(method, route)


def ballpark(outcome: str) -> None:
    BALLPARKS.labels(outcome).inc()


def job_ended(task: str, outcome: str, seconds: float) -> None:
    JOBS.labels(task, outcome).inc()
    JOB_S.labels(task).observe(seconds)


def repriced(counts: Mapping[str, int]) -> None:
    for outcome, count in counts.items():
        REPRICED.labels(outcome).inc(count)


class Measured(Collector):
    """Metrics that were measured for one reading."""

    def __init__(self, found: Iterable[Metric]) -> None:
        self._found = tuple(found)

    def collect(self) -> Iterable[Metric]:
        return self._found


def exposed(measured: Iterable[Metric] = ()) -> bytes:
    """All counts, of every process that counts with this one, and what was measured just now."""
    found = CollectorRegistry(auto_describe=False)
    if FOLDER in os.environ:
        MultiProcessCollector(found)  # type: ignore[no-untyped-call]
        told = generate_latest(found)
    else:
        told = generate_latest(REGISTRY)
    now = CollectorRegistry(auto_describe=False)
    now.register(Measured(measured))
    return told + generate_latest(now)
