"""What every request and every answer has: an id, a log line, headers that keep browsers careful."""

from __future__ import annotations

import logging
import re
import sys
import time
import uuid

import structlog
from flask import Flask, Response, g, request

from service.api.framework import limits

log = structlog.get_logger()

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
    "Cache-Control": "private, no-cache",
}


def set_up_logging(level: int = logging.INFO) -> None:
    """JSON lines on standard error, each with its request id."""
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            structlog.processors.JSONRenderer(),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(level),
        logger_factory=lambda *_: structlog.WriteLogger(sys.stderr),
        cache_logger_on_first_use=False,
    )


def register(app: Flask) -> None:
    app.before_request(_begin)
    app.after_request(_end)


def _begin() -> None:
    given = request.headers.get("X-Request-Id", "")
    g.request_id = given if re.fullmatch(r"[A-Za-z0-9._-]{8,64}", given) else uuid.uuid4().hex
    g.began = time.perf_counter()
    structlog.contextvars.clear_contextvars()
    structlog.contextvars.bind_contextvars(request_id=g.request_id)


def _end(response: Response) -> Response:
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.is_secure:
        response.headers.setdefault("Strict-Transport-Security", "max-age=31536000")
    limits.tell(response)
    response.headers["X-Request-Id"] = g.get("request_id", "")
    response.headers.add("Vary", "Accept, Authorization")
    took = round(1000 * (time.perf_counter() - g.get("began", time.perf_counter())), 1)
    log.info("request", method=request.method, path=request.path, status=response.status_code, ms=took)
    return response
