"""What every request and every answer has: an id, a log line, headers that keep browsers careful."""

from __future__ import annotations

import re
import time
import uuid

import structlog
from flask import Flask, Response, g, request

from service.api.framework import limits
from service.telemetry import metrics, trace, tracing

log = structlog.get_logger()

REQUEST_ID = re.compile(r"[A-Za-z0-9._-]{8,64}")
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cache-Control": "private, no-cache",
}


def request_id_of(given: str) -> str:
    """The one that was sent along, where it may stand in logs."""
    return given if REQUEST_ID.fullmatch(given) else uuid.uuid4().hex


def register(app: Flask) -> None:
    app.before_request(_begin)
    app.after_request(_end)


def _begin() -> None:
    g.request_id = request_id = request_id_of(request.headers.get("X-Request-Id", ""))
    g.began = time.perf_counter()
    structlog.contextvars.clear_contextvars()
    trace.take(request.headers.get("traceparent"))
    structlog.contextvars.bind_contextvars(request_id=request_id)
    if request.view_args and "quote_id" in request.view_args:
        structlog.contextvars.bind_contextvars(quote=str(request.view_args["quote_id"]))


def _end(response: Response) -> Response:
    headers, present = response.headers, {name.lower() for name, _ in response.headers}
    headers.extend([(name, value) for name, value in HEADERS.items() if name.lower() not in present])
    if request.is_secure:
        headers.setdefault("Strict-Transport-Security", "max-age=31536000")
    limits.tell(response)
    headers["X-Request-Id"] = g.get("request_id", "")
    headers.add("Vary", "Accept, Authorization")
    _tell(response.status_code, time.perf_counter() - g.get("began", time.perf_counter()))
    return response


def _tell(status: int, took_s: float) -> None:
    """The route's template and not the path, which holds whatever the caller wrote."""
    route = request.url_rule.rule if request.url_rule else metrics.OTHER
    metrics.answered(request.method, route, status, took_s)
    tracing.note(structlog.contextvars.get_contextvars())
    log.info("request", method=request.method, route=route, status=status, ms=round(1000 * took_s, 1))
