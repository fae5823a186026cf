"""A task as it is run: named in the logs, timed, counted, in the trace of what made it necessary."""

from __future__ import annotations

import inspect
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any

import structlog
from procrastinate import JobContext

from service.telemetry import metrics, trace, tracing

log = structlog.get_logger()
Task = Callable[..., Any]


def watched(name: str, task: Task) -> Task:
    """`task` with all of that around it; it does not get to see the trace."""
    if inspect.iscoroutinefunction(task):

        @wraps(task)
        async def run_async(context: JobContext, **given: Any) -> None:
            with _watching(name, context, given):
                await task(context, **given)

        return run_async

    @wraps(task)
    def run(context: JobContext, **given: Any) -> None:
        with _watching(name, context, given):
            task(context, **given)

    return run


@contextmanager
def _watching(name: str, context: JobContext, given: dict[str, Any]) -> Iterator[None]:
    began, outcome = time.perf_counter(), "failed"
    traceparent = given.pop(trace.ARGUMENT, None)
    said = {"task": name, "job": context.job.id, "org": given.get("org_id")}
    about = {key: value for key, value in said.items() if value is not None}
    with structlog.contextvars.bound_contextvars(**about), tracing.job_span(name, traceparent, about):
        try:
            yield
            outcome = "done"
        finally:
            took = time.perf_counter() - began
            metrics.job_ended(name, outcome, took)
            log.info("job", outcome=outcome, ms=round(1000 * took, 1))
