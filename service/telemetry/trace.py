"""Which trace the work at hand belongs to, as W3C Trace Context writes it down, with or without a tracer.

https://www.w3.org/TR/trace-context-1/#traceparent-header
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from contextvars import ContextVar

ARGUMENT = "trace"
"""Under this name a job carries on the trace of what made it necessary."""

_PATTERN = re.compile(r"(?!ff)[0-9a-f]{2}-(?!0{32})[0-9a-f]{32}-(?!0{16})[0-9a-f]{16}-[0-9a-f]{2}")
_given: ContextVar[str | None] = ContextVar("given", default=None)
_tracer: list[Callable[[], str | None]] = []


def take(header: str | None) -> None:
    """Go on under this `traceparent`; under none where it is missing or malformed."""
    _given.set(header if header and _PATTERN.fullmatch(header) else None)


def ask(tracer: Callable[[], str | None]) -> None:
    """From now on `tracer` is asked first: it knows the span at hand."""
    _tracer[:] = [tracer]


def current() -> str | None:
    """The `traceparent` to send with whatever is called from here."""
    return next(filter(None, (tracer() for tracer in _tracer)), None) or _given.get()


def trace_id() -> str | None:
    traceparent = current()
    return traceparent.split("-")[1] if traceparent else None


def headers() -> Mapping[str, str]:
    """What a message to others carries."""
    traceparent = current()
    return {"traceparent": traceparent} if traceparent else {}


def arguments() -> Mapping[str, str]:
    """What a job carries."""
    traceparent = current()
    return {ARGUMENT: traceparent} if traceparent else {}
