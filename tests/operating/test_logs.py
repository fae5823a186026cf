"""What the logs tell, and what they never tell: a person's name, address and e-mail are looked for."""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
import structlog
from flask import Flask
from sqlalchemy import Engine, text
from sqlalchemy.exc import IntegrityError

from service.store.engine import make_engine
from service.store.watch import watch
from service.telemetry import logs
from tests.api.conftest import Office
from tests.operating.person import EMAIL, NAME, PERSON, STREET, told_of

TRACE = "00-0af7651916cd43dd8448eb211c80319c-b7ad6b7169203331-01"


def lines(capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    said = capsys.readouterr()
    found = [json.loads(line) for line in said.err.splitlines() if line.startswith("{")]
    assert told_of(said.out + said.err) == []
    return found


def test_a_request_is_told_by_its_ids(
    demo: Office,
    demo_tiles: dict[str, str],
    capsys: pytest.CaptureFixture[str],
) -> None:
    capsys.readouterr()
    room = {"name": NAME, "rectangle": {"length": 3015, "width": 2109}, "origin": "corner"}
    job = {"rooms": [{**room, "tile": {"product": next(iter(demo_tiles.values()))}}], "customer": PERSON}
    made = demo.post("/v1/quotes", job, traceparent=TRACE, X_Request_Id="request-1").json
    demo.get(f"/v1/quotes/{made['id']}/purchase-list")
    posted, read = (line for line in lines(capsys) if line["event"] == "request")
    assert posted["request_id"] == "request-1"
    assert posted["trace_id"] == TRACE.split("-")[1]
    assert posted["quote"] == read["quote"] == made["id"]
    assert posted["org"] == read["org"]
    assert (posted["method"], posted["route"], posted["status"]) == ("POST", "/v1/quotes", 201)
    assert read["route"] == "/v1/quotes/<uuid:quote_id>/purchase-list"
    assert "trace_id" not in read


def test_no_log_tells_of_a_customer(
    demo: Office,
    app: Flask,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    capsys.readouterr()
    assert demo.post("/v1/customers", PERSON).status_code == 201
    assert demo.post("/v1/customers", {**PERSON, "kind": NAME}).status_code == 422
    for path in (f"/v1/customers/{EMAIL}", f"/v1/quotes?customer={NAME}", f"/{STREET}"):
        demo.client.get(path, headers={"Authorization": f"Bearer {EMAIL}"})

    def fail() -> None:
        raise LookupError(f"no {NAME}")

    monkeypatch.setitem(app.view_functions, "service.healthz", fail)
    assert demo.client.get("/healthz").status_code == 500
    told = lines(capsys)
    assert len([line for line in told if line["event"] == "request"]) == 6
    failure = next(line["failure"] for line in told if line["event"] == "unexpected")
    assert failure[0]["type"] == "builtins.LookupError"
    assert failure[0]["at"][-1].endswith(" fail")


def test_a_databases_complaint_is_told_without_the_row(
    database_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    engine = make_engine(database_url)
    watch(engine, slow_statement_ms=60_000)
    logs.set_up()
    with engine.connect() as connection:
        connection.execute(
            text("CREATE TEMPORARY TABLE people (name text CONSTRAINT short CHECK (name = ''))")
        )
        with pytest.raises(IntegrityError) as caught:
            connection.execute(text("INSERT INTO people VALUES (:name)"), {"name": NAME})
    engine.dispose()
    assert NAME in str(caught.value.orig), "PostgreSQL repeats the row"
    structlog.get_logger().error("unexpected", exc_info=caught.value)
    (line,) = lines(capsys)
    assert line["failure"][1]["sqlstate"] == psycopg.errors.CheckViolation.sqlstate
    assert line["failure"][1]["constraint_name"] == "short"


def test_a_slow_statement_is_told_without_its_values(
    database_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    engine = make_engine(database_url)
    watch(engine, slow_statement_ms=30)
    logs.set_up()
    with engine.connect() as connection:
        connection.execute(text("SELECT 1"))
        connection.execute(text("SELECT\n  :name, pg_sleep(0.04)"), {"name": NAME})
        with pytest.raises(psycopg.Error):
            connection.connection.cursor().execute("SELECT 1 / 0")
    engine.dispose()
    (line,) = lines(capsys)
    assert line["event"] == "slow-statement"
    assert line["statement"].startswith("SELECT %(name)s")
    assert "pg_sleep(0.04)" in line["statement"]
    assert line["ms"] >= 40
    assert line["failed"] is False


def test_a_statement_that_is_cut_off_is_told_too(
    database_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    engine: Engine = make_engine(database_url)
    watch(engine, slow_statement_ms=30)
    logs.set_up()
    with engine.connect() as connection:
        connection.execute(text("SET statement_timeout = '50ms'"))
        with pytest.raises(Exception, match="statement timeout"):
            connection.execute(text("SELECT pg_sleep(5)"))
    engine.dispose()
    (line,) = lines(capsys)
    assert (line["statement"], line["failed"]) == ("SELECT pg_sleep(5)", True)


@pytest.fixture
def handler(monkeypatch: pytest.MonkeyPatch) -> Iterator[logging.Handler]:
    """The one that serves all packages' lines in a process of the service's own."""
    held: list[logging.Handler] = []
    monkeypatch.setattr(logging, "basicConfig", lambda **given: held.extend(given["handlers"]))
    logs.set_up_process()
    yield held[0]
    logs._lasting.clear()  # else loggers keep the standard error of the test that first uses them
    logs.set_up()


def test_what_packages_log_is_told_likewise(
    handler: logging.Handler, capsys: pytest.CaptureFixture[str]
) -> None:
    handler.setStream(sys.stderr)  # type: ignore[attr-defined]
    unread = logging.LogRecord(
        "gunicorn.error", logging.WARNING, "", 0, "Invalid request from ip=%s: %s", ("192.0.2.1", EMAIL), None
    )
    try:
        raise ValueError(NAME)
    except ValueError:
        failed = logging.LogRecord("queue", logging.ERROR, "", 0, "job %s", (7,), sys.exc_info())
    for record in (unread, failed):
        handler.handle(record)
    first, second = lines(capsys)
    assert first["event"] == "Invalid request"
    assert (second["event"], second["logger"], second["level"]) == ("job 7", "queue", "error")
    assert second["failure"][0]["type"] == "builtins.ValueError"
