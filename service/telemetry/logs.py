"""Logs: one JSON object a line on standard error.

A line names its request, organisation, quote, job and trace by id. It holds nothing that a caller wrote: no
path or query, no body, no address. Of an exception it tells types and places, not the message, since messages
of a database repeat the row that they complain about.
"""

from __future__ import annotations

import logging
import sys
from collections.abc import Iterator, MutableMapping
from traceback import extract_tb
from typing import Any

import structlog

from service.telemetry import trace

MOST_FRAMES = 30
Line = MutableMapping[str, Any]


_lasting: list[bool] = []
"""Whether loggers may be made once and kept: in processes that nobody configures anew."""


def set_up(level: str = "info") -> None:
    """For this service's own lines."""
    structlog.configure(
        processors=[*_SHARED, structlog.processors.JSONRenderer()],
        wrapper_class=structlog.make_filtering_bound_logger(level),
        logger_factory=lambda *_: structlog.WriteLogger(sys.stderr),
        cache_logger_on_first_use=bool(_lasting),
    )


def set_up_process(level: str = "info") -> None:
    """For those of all packages too: for processes that belong to the service alone."""
    _lasting[:] = [True]
    set_up(level)
    handler = logging.StreamHandler()
    handler.addFilter(_without_requests)
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(
            foreign_pre_chain=[structlog.stdlib.add_logger_name, *_SHARED],
            processors=[
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                structlog.processors.JSONRenderer(),
            ],
        )
    )
    logging.basicConfig(level=level.upper(), handlers=[handler], force=True)


def _without_requests(record: logging.LogRecord) -> bool:
    """The server repeats lines of requests that it cannot read, and callers' addresses with them."""
    if record.name == "gunicorn.error":
        text = record.getMessage()
        for begins in ("Invalid request", "Error handling request", "Ignoring", "Closing connection"):
            if text.startswith(begins):
                record.msg, record.args = begins, ()
    return True


def _trace(_: Any, __: str, line: Line) -> Line:
    found = trace.trace_id()
    if found:
        line["trace_id"] = found
    return line


def _failure(_: Any, __: str, line: Line) -> Line:
    """In place of `exc_info`, which chain of exceptions led here."""
    said = line.pop("exc_info", None)
    error = said[1] if isinstance(said, tuple) else sys.exc_info()[1] if said is True else said
    if isinstance(error, BaseException):
        line["failure"] = [told(link) for link in chain(error)]
    return line


def chain(error: BaseException | None) -> Iterator[BaseException]:
    """The exception and what caused it, the last first."""
    while error is not None:
        yield error
        error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)


def told(error: BaseException) -> dict[str, Any]:
    """Type and places of one exception; of a database's also its code and what of the schema it names."""
    frames = [f"{f.filename}:{f.lineno} {f.name}" for f in extract_tb(error.__traceback__)[-MOST_FRAMES:]]
    named = {"sqlstate": getattr(error, "sqlstate", None)}
    diagnosis = getattr(error, "diag", None)
    for part in ("schema_name", "table_name", "column_name", "constraint_name"):
        named[part] = getattr(diagnosis, part, None)
    kept = {name: value for name, value in named.items() if value}
    return {"type": f"{type(error).__module__}.{type(error).__qualname__}", **kept, "at": frames}


_SHARED: list[structlog.typing.Processor] = [
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_log_level,
    structlog.processors.TimeStamper(fmt="iso", utc=True),
    _trace,
    _failure,
]
