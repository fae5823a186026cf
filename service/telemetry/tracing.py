"""Traces by OpenTelemetry, where a collector is named and the extra `telemetry` is installed.

A span keeps the attributes that are listed here and nothing else: no address, path, query, value or message.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, cast

from service.settings import Settings, SettingsError
from service.telemetry import trace

if TYPE_CHECKING:
    from opentelemetry.sdk.trace import ReadableSpan
    from opentelemetry.sdk.trace.export import SpanExporter

NAME = "floor-pricing-service"
NOT_TRACED = "healthz,readyz,metrics"
KEPT = frozenset(
    {
        "http.method",
        "http.request.method",
        "http.response.status_code",
        "http.route",
        "http.status_code",
        "db.name",
        "db.statement",
        "db.system",
        "floors.job",
        "floors.org",
        "floors.quote",
        "floors.request_id",
        "floors.task",
    }
)
_on: list[bool] = []


def set_up(settings: Settings) -> None:
    """Trace from now on, if the settings name a collector; SettingsError where nothing can trace."""
    if settings.otel_exporter_otlp_endpoint is None:
        return
    try:
        from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
    except ImportError:
        raise SettingsError(
            "OTEL_EXPORTER_OTLP_ENDPOINT wants the extra `telemetry` installed, or must not be set"
        ) from None
    begin(OTLPSpanExporter())


def begin(exporter: SpanExporter) -> None:
    """Send the spans of this process, and of those that it parts into, to `exporter`."""
    from opentelemetry import trace as api
    from opentelemetry.sdk.resources import Resource
    from opentelemetry.sdk.trace import TracerProvider
    from opentelemetry.sdk.trace.export import BatchSpanProcessor

    if not _on:
        _on.append(True)
        api.set_tracer_provider(TracerProvider(resource=Resource.create({"service.name": NAME})))
        trace.ask(_current)
    provider: Any = api.get_tracer_provider()
    provider.add_span_processor(BatchSpanProcessor(cast("SpanExporter", Impersonal(exporter))))


def flush() -> None:
    """Send what is not sent yet."""
    if _on:
        from opentelemetry import trace as api

        provider: Any = api.get_tracer_provider()
        provider.force_flush()


def watch_app(app: Any) -> None:
    """Its requests become spans (a Flask application)."""
    if _on:
        from opentelemetry.instrumentation.flask import FlaskInstrumentor

        instrument: Any = FlaskInstrumentor().instrument_app
        instrument(app, excluded_urls=NOT_TRACED, enable_commenter=False)


def watch_connection(connection: Any) -> None:
    """Its statements become spans."""
    if _on:
        from opentelemetry.instrumentation.psycopg import PsycopgInstrumentor

        PsycopgInstrumentor.instrument_connection(connection)


def note(about: Mapping[str, Any]) -> None:
    """Name in the span at hand what it is about, by ids."""
    if _on:
        from opentelemetry import trace as api

        api.get_current_span().set_attributes({f"floors.{name}": str(id_) for name, id_ in about.items()})


@contextmanager
def job_span(task: str, traceparent: str | None, about: Mapping[str, Any]) -> Iterator[None]:
    """The span of one job, in the trace of what made it necessary."""
    trace.take(traceparent)
    if not _on:
        yield
        return
    from opentelemetry import trace as api
    from opentelemetry.propagate import extract

    parent = extract({"traceparent": traceparent or ""})
    with api.get_tracer(NAME).start_as_current_span(task, parent, kind=api.SpanKind.CONSUMER):
        note(about)
        yield


def _current() -> str | None:
    from opentelemetry.propagate import inject

    carried: dict[str, str] = {}
    inject(carried)
    return carried.get("traceparent")


class Impersonal:
    """An exporter that hands on what spans may tell (a SpanExporter)."""

    def __init__(self, exporter: SpanExporter) -> None:
        self._exporter = exporter

    def export(self, spans: Sequence[ReadableSpan]) -> Any:
        return self._exporter.export([_impersonal(span) for span in spans])

    def shutdown(self) -> None:
        self._exporter.shutdown()

    def force_flush(self, timeout_millis: int = 30_000) -> bool:
        return self._exporter.force_flush(timeout_millis)


def _impersonal(span: ReadableSpan) -> ReadableSpan:
    from opentelemetry.sdk.trace import ReadableSpan
    from opentelemetry.trace import Status

    kept = {name: value for name, value in (span.attributes or {}).items() if name in KEPT}
    unmatched = "http.method" in kept and "http.route" not in kept
    return ReadableSpan(
        name=str(kept["http.method"]) if unmatched else span.name,
        context=span.context,
        parent=span.parent,
        resource=span.resource,
        attributes=kept,
        links=span.links,
        kind=span.kind,
        status=Status(span.status.status_code),
        start_time=span.start_time,
        end_time=span.end_time,
        instrumentation_scope=span.instrumentation_scope,
    )
