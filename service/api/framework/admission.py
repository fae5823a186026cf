"""How many requests are worked on at once, how many wait for that, and a quick refusal for all others.

Threads beyond those at work cost little: they read what slow clients send, wait, refuse, and tell whether the
service is alive.
"""

from __future__ import annotations

import io
import json
import time
from collections.abc import Iterable
from threading import Semaphore
from typing import TYPE_CHECKING

from service.api.framework.problems import MEDIA_TYPE, Problem
from service.api.framework.web import HEADERS, request_id_of
from service.settings import Settings
from service.telemetry import metrics

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment

ALWAYS = frozenset({"/healthz", "/readyz", "/metrics"})
LONGEST_WAIT_S = 10.0
RETRY_AFTER_S = 2


class Admission:
    """The application behind its door."""

    def __init__(self, app: WSGIApplication, settings: Settings) -> None:
        self._app = app
        self._read_ahead = settings.max_body_bytes
        self._at_work = Semaphore(settings.threads)
        self._waiting = Semaphore(settings.max_waiting)

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        if environ.get("PATH_INFO") in ALWAYS:
            return self._app(environ, start_response)
        began = time.perf_counter()
        self._read(environ)
        if not self._come_in():
            return _refusal(environ, start_response, time.perf_counter() - began)
        try:
            return self._app(environ, start_response)
        finally:
            self._at_work.release()

    def _read(self, environ: WSGIEnvironment) -> None:
        """Read the body before work begins, so that nobody who works waits for a slow client."""
        length = str(environ.get("CONTENT_LENGTH") or "")
        if length.isdecimal() and 0 < int(length) <= self._read_ahead:
            environ["wsgi.input"] = io.BytesIO(environ["wsgi.input"].read(int(length)))

    def _come_in(self) -> bool:
        if self._at_work.acquire(blocking=False):
            return True
        if not self._waiting.acquire(blocking=False):
            return False
        try:
            return self._at_work.acquire(timeout=LONGEST_WAIT_S)
        finally:
            self._waiting.release()


def _refusal(environ: WSGIEnvironment, start_response: StartResponse, took_s: float) -> Iterable[bytes]:
    """503 without asking the application, which costs a hundredth of most answers."""
    request_id = request_id_of(str(environ.get("HTTP_X_REQUEST_ID", "")))
    detail = "All are at work and enough wait; nothing was begun. Ask again in a moment."
    problem = Problem(503, detail, "too-busy")
    body = json.dumps(problem.document(str(environ.get("PATH_INFO", "")), request_id)).encode()
    headers = {
        **HEADERS,
        "Content-Type": MEDIA_TYPE,
        "Content-Length": str(len(body)),
        "Retry-After": str(RETRY_AFTER_S),
        "X-Request-Id": request_id,
    }
    metrics.answered(str(environ.get("REQUEST_METHOD", "")), metrics.OTHER, 503, took_s)
    start_response("503 Service Unavailable", list(headers.items()))
    return [body]
