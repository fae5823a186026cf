"""What is counted, under which names and labels, in one process and in several."""

from __future__ import annotations

import os
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from prometheus_client.parser import text_string_to_metric_families
from sqlalchemy import Engine, create_engine

from service.api.measured import measured
from service.store.ids import new_id
from service.store.queue import NOTE_PRICE_CHANGE, enqueue
from service.store.session import transaction
from service.telemetry import sharing
from service.telemetry.metrics import exposed
from tests.api.conftest import Office
from tests.api.test_large_bodies import ROOT, _wait_for
from tests.conftest import PEPPER
from tests.topology.run import _free_port

COUNTED = "floors_http_requests_total"
Sample = tuple[str, frozenset[tuple[str, str]]]


def samples(text: str) -> dict[Sample, float]:
    return {
        (sample.name, frozenset(sample.labels.items())): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def sample(name: str, **labels: str) -> Sample:
    return name, frozenset(labels.items())


def test_requests_are_counted_by_route_and_not_by_what_callers_write(demo: Office) -> None:
    before = samples(demo.client.get("/metrics").text)
    for _ in range(3):
        demo.client.get(f"/v1/quotes/{uuid4()}", headers={"Authorization": f"Bearer {demo.key}"})
        demo.client.get(f"/nowhere/{uuid4()}")
        demo.client.open("/healthz", method=f"BREW{uuid4().hex}")
    answer = demo.client.get("/metrics")
    assert answer.content_type.startswith("text/plain; version=")
    after = samples(answer.text)
    more = {
        key: value - before.get(key, 0) for key, value in after.items() if key[0].endswith("requests_total")
    }
    grown = {key: value for key, value in more.items() if value == 3}
    assert grown == {
        sample(
            "floors_http_requests_total", method="GET", route="/v1/quotes/<uuid:quote_id>", status="404"
        ): 3,
        sample(COUNTED, method="GET", route="other", status="404"): 3,
        sample(COUNTED, method="other", route="other", status="405"): 3,
    }
    timed = sample("floors_http_request_seconds_count", method="GET", route="/v1/quotes/<uuid:quote_id>")
    assert after[timed] - before.get(timed, 0) == 3


def test_ballparks_are_counted(demo: Office) -> None:
    answered = sample("floors_ballparks_total", outcome="answered")
    before = samples(exposed().decode()).get(answered, 0)
    assert demo.post("/v1/ballparks", {"area_m2": 6, "room_kind": "bathroom"}).status_code == 200
    assert samples(exposed().decode())[answered] == before + 1


def test_the_queues_depth_is_measured_when_it_is_asked_for(live_engine: Engine) -> None:
    with transaction(live_engine, new_id()) as session:
        for _ in range(2):
            enqueue(session, NOTE_PRICE_CHANGE, {"org_id": "x", "price_list_id": "y"})
    found = samples(exposed(measured(live_engine)).decode())
    waiting = {"queue": "default", "task": NOTE_PRICE_CHANGE}
    assert found[sample("floors_queue_jobs", **waiting, status="todo")] == 2
    assert 0 <= found[sample("floors_queue_oldest_seconds", **waiting)] < 60
    assert found[sample("floors_database_up")] == 1


def test_metrics_are_told_without_a_database_too() -> None:
    gone = create_engine("postgresql+psycopg://nobody@127.0.0.1:1/none")
    found = samples(exposed(measured(gone)).decode())
    assert found[sample("floors_database_up")] == 0
    assert not [name for name, _ in found if name.startswith("floors_queue")]


def test_a_worker_takes_the_slot_that_is_free() -> None:
    server = SimpleNamespace(WORKERS={1: SimpleNamespace(floors_slot=0), 3: SimpleNamespace(floors_slot=2)})
    worker: Any = SimpleNamespace()
    sharing._give_slot(server, worker)
    assert worker.floors_slot == 1


def test_metrics_that_would_count_alone_are_refused() -> None:
    with pytest.raises(RuntimeError, match="before their processes share"), sharing.sharing():
        pass


def test_all_processes_count_together_and_a_renewed_one_goes_on(
    live_engine: Engine, database_url: str, tmp_path: Path
) -> None:
    """Three processes, each renewed after few requests: whoever is asked tells the counts of all."""
    port = _free_port()
    given = {
        "DATABASE_URL": database_url,
        "KEY_PEPPER": PEPPER,
        "MAX_REQUESTS": "40",
        "TMPDIR": str(tmp_path),
    }
    command = [sys.executable, "-m", "service", "serve", "--workers", "2", "--port", str(port)]
    with (tmp_path / "log").open("wb") as log:
        server = subprocess.Popen(command, cwd=ROOT, env={**os.environ, **given}, stderr=log, stdout=log)
    try:
        _wait_for(port)
        for _ in range(150):
            told(port, "/healthz")
        (folder,) = tmp_path.glob("floors-metrics-*")
        counted = sample(COUNTED, method="GET", route="/healthz", status="200")
        assert [samples(told(port, "/metrics"))[counted] for _ in range(4)] == [150] * 4
        assert len(list(folder.glob("counter_*.db"))) == 3, "the first process and two slots"
        booted = (tmp_path / "log").read_text().count("Booting worker")
        assert booted > 2, "some were renewed"
        opened = sample("floors_pool_connections")
        assert 1 <= samples(told(port, "/metrics"))[opened] <= 10
    finally:
        server.terminate()
        assert server.wait(timeout=30) == 0
    assert not list(tmp_path.glob("floors-metrics-*")), "left behind"


def told(port: int, path: str) -> str:
    """Asked again where a process that ends closes the connection."""
    for _ in range(5):
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=10) as answer:
                return str(answer.read().decode())
        except OSError:
            time.sleep(0.1)
    raise AssertionError(path)
