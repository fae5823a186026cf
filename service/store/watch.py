"""An engine that is watched: slow statements are logged, statements and connections counted.

A statement is logged as its text, in which values are placeholders.
"""

from __future__ import annotations

import time
from typing import Any

import structlog
from sqlalchemy import Connection, Engine, ExceptionContext, event

from service.telemetry import metrics, tracing

log = structlog.get_logger()
LONGEST_TEXT = 2000


def watch(engine: Engine, slow_statement_ms: int) -> None:
    """Watch what this engine does from now on."""

    def begin(_: Connection, __: Any, ___: str, ____: Any, context: Any, _____: bool) -> None:
        context.began = time.perf_counter()

    def end(_: Connection, __: Any, statement: str, ____: Any, context: Any, _____: bool) -> None:
        _took(statement, context, slow_statement_ms, failed=False)

    def failed(fault: ExceptionContext) -> None:
        if fault.execution_context is not None and fault.statement is not None:
            _took(fault.statement, fault.execution_context, slow_statement_ms, failed=True)

    event.listen(engine, "before_cursor_execute", begin)
    event.listen(engine, "after_cursor_execute", end)
    event.listen(engine, "handle_error", failed)
    _count_connections(engine)


def _took(statement: str, context: Any, slow_statement_ms: int, failed: bool) -> None:
    took = time.perf_counter() - getattr(context, "began", time.perf_counter())
    metrics.STATEMENT_S.observe(took)
    if 1000 * took >= slow_statement_ms:
        metrics.SLOW_STATEMENTS.inc()
        text = " ".join(statement.split())[:LONGEST_TEXT]
        log.warning("slow-statement", ms=round(1000 * took), statement=text, failed=failed)


def _count_connections(engine: Engine) -> None:
    def opened(connection: Any, _: Any) -> None:
        metrics.CONNECTIONS.inc()
        tracing.watch_connection(connection)

    event.listen(engine, "connect", opened)
    event.listen(engine, "close", lambda *_: metrics.CONNECTIONS.dec())
    event.listen(engine, "checkout", lambda *_: metrics.IN_USE.inc())
    event.listen(engine, "checkin", lambda *_: metrics.IN_USE.dec())
