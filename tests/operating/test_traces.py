"""A caller's trace goes on through the request, its statements, its jobs and what these send."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from opentelemetry import trace as api
from opentelemetry.sdk.trace import ReadableSpan
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from sqlalchemy import Engine, create_engine, text
from sqlalchemy.exc import IntegrityError

from service import create_app
from service.demo.seed import seed
from service.jobs.watched import watched
from service.jobs.worker import run_worker
from service.quoting.webhooks import deliver
from service.quoting.webhooks.sealing import seal
from service.quoting.webhooks.sending import Outcome, Sender
from service.quoting.webhooks.signing import new_secret
from service.settings import Settings, SettingsError, load_settings
from service.store.engine import make_engine
from service.store.watch import watch
from service.telemetry import logs, metrics, trace, tracing
from tests.api.conftest import Office
from tests.conftest import PEPPER
from tests.operating.person import EMAIL, NAME, PERSON, told_of

ID = "0af7651916cd43dd8448eb211c80319c"
TRACEPARENT = f"00-{ID}-b7ad6b7169203331-01"
Spans = Callable[[], Sequence[ReadableSpan]]


@pytest.fixture
def spans() -> Iterator[Spans]:
    """Those that were sent so far; after the test nothing is traced any more."""
    exporter = InMemorySpanExporter()
    tracing.begin(exporter)

    def sent() -> Sequence[ReadableSpan]:
        tracing.flush()
        return exporter.get_finished_spans()

    yield sent
    tracing._on.clear()
    trace._tracer.clear()


@pytest.mark.parametrize(
    ("header", "taken"),
    [
        (TRACEPARENT, TRACEPARENT),
        (None, None),
        ("00-0-0-00", None),
        (f"ff-{ID}-b7ad6b7169203331-01", None),  # 3.2.2.1: an invalid version
        (f"00-{'0' * 32}-b7ad6b7169203331-01", None),  # 3.2.2.3: all zeroes
        (f"00-{ID}-{'0' * 16}-01", None),
        (f"00-{ID.upper()}-b7ad6b7169203331-01", None),
    ],
)
def test_a_traceparent_is_taken_as_its_standard_says(header: str | None, taken: str | None) -> None:
    trace.take(header)
    assert trace.current() == taken
    assert trace.headers() == ({"traceparent": taken} if taken else {})
    trace.take(None)


def test_a_trace_goes_through_request_statements_and_job(
    spans: Spans, settings: Settings, live_engine: Engine, database_url: str
) -> None:
    engine = make_engine(database_url)
    watch(engine, settings.slow_statement_ms)
    office = Office(create_app(settings, engine).test_client(), seed(settings))
    assert office.post("/v1/customers", PERSON, traceparent=TRACEPARENT).status_code == 201
    office.client.get(f"/nowhere/{NAME}?email={EMAIL}", headers={"User-Agent": NAME})
    ordered = office.post("/v1/repricings", {"mode": "preview"}, traceparent=TRACEPARENT)
    assert ordered.status_code == 202
    run_worker(replace(settings, database_url=database_url), until_idle=True)
    engine.dispose()
    found = spans()
    same = [span for span in found if span.context and f"{span.context.trace_id:032x}" == ID]
    names = [span.name for span in same]
    assert {"POST /v1/customers", "POST /v1/repricings", "office:begin_repricing"} <= set(names)
    by_id = {span.context.span_id: span for span in same if span.context}
    job = next(span for span in same if span.name == "office:begin_repricing")
    statement = next(
        span for span in same if "INSERT INTO customers" in str((span.attributes or {}).get("db.statement"))
    )
    assert job.parent is not None
    assert job.parent.span_id in by_id, "the request, or a statement of it, made the job necessary"
    assert statement.parent is not None
    assert by_id[statement.parent.span_id].name == "POST /v1/customers"
    asked = by_id[statement.parent.span_id].attributes or {}
    assert asked["floors.request_id"]
    assert asked["floors.org"]
    check_impersonal(found)


def check_impersonal(found: Sequence[ReadableSpan]) -> None:
    told = "".join(span.to_json() for span in found)
    assert told_of(told) == []
    assert "127.0.0.1" not in told, "no address of a caller"
    assert all(set(span.attributes or {}) <= tracing.KEPT for span in found)


def test_a_fault_is_traced_without_what_it_says(spans: Spans, database_url: str) -> None:
    engine = make_engine(database_url)
    watch(engine, 60_000)
    with engine.connect() as connection, tracing.job_span("office:some_task", TRACEPARENT, {"org": "1"}):
        connection.execute(text("CREATE TEMPORARY TABLE people (name text CHECK (name = ''))"))
        with pytest.raises(IntegrityError):
            connection.execute(text("INSERT INTO people VALUES (:name)"), {"name": NAME})
    engine.dispose()
    found = spans()
    failed = [span for span in found if span.status.status_code is api.StatusCode.ERROR]
    assert [span.name for span in failed] == ["INSERT"]
    check_impersonal(found)


def test_what_is_sent_to_webhooks_carries_the_trace() -> None:
    sent: list[Mapping[str, str]] = []

    class Recorder(Sender):
        def send(self, url: str, headers: Mapping[str, str], body: bytes) -> Outcome:
            sent.append(headers)
            return Outcome(204)

    message = deliver.Message("https://example.org/", "1", b"{}", (seal(new_secret(), PEPPER),))
    post = deliver.Post(create_engine("postgresql+psycopg://"), Recorder(), PEPPER)
    for given in (TRACEPARENT, None):
        trace.take(given)
        assert deliver._sent(post, message).delivered
    assert [headers.get("traceparent") for headers in sent] == [TRACEPARENT, None]


def test_a_job_that_fails_is_counted_and_told(capsys: pytest.CaptureFixture[str]) -> None:
    def fail(_: Any, org_id: str) -> None:
        raise LookupError(org_id)

    logs.set_up()
    before = metrics.JOBS.labels("office:fails", "failed")._value.get()
    with pytest.raises(LookupError):
        watched("office:fails", fail)(
            SimpleNamespace(job=SimpleNamespace(id=7)), org_id="1", trace=TRACEPARENT
        )
    assert metrics.JOBS.labels("office:fails", "failed")._value.get() == before + 1
    line = json.loads(capsys.readouterr().err)
    told = {name: line[name] for name in ("event", "outcome", "task", "job", "org", "trace_id")}
    assert told == {
        "event": "job",
        "outcome": "failed",
        "task": "office:fails",
        "job": 7,
        "org": "1",
        "trace_id": ID,
    }
    trace.take(None)


def test_a_collector_without_the_extra_is_told_at_the_start(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "opentelemetry.exporter.otlp.proto.http.trace_exporter", None)
    tracing.set_up(load_settings({}))
    with pytest.raises(SettingsError, match="OTEL_EXPORTER_OTLP_ENDPOINT wants the extra"):
        tracing.set_up(load_settings({"OTEL_EXPORTER_OTLP_ENDPOINT": "http://collector:4318"}))
