"""Quotes beside a bare Flask view that stores a JSON body of the same size by one INSERT: the same gunicorn,
the same database, one run
(python -m pytest --benchmark-enable -n 0 -s tests/benchmarks/test_quotes.py; needs wrk).

Each request is for another room, so that nothing kept from the one before answers it.
"""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from statistics import median

import psycopg
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from sqlalchemy import Engine

from service.demo.seed import ORGANISATION, product_ids, seed
from service.settings import Settings
from service.store.engine import libpq_url
from service.store.session import transaction
from tests.api.conftest import settings
from tests.benchmarks.ratios import note
from tests.benchmarks.serving import (
    SERVICE,
    Asked,
    milliseconds,
    one_by_one,
    requests_a_second,
    script_of,
    served,
)
from tests.conftest import PEPPER

__all__ = ["settings"]
KEY = "key-of-the-benchmark"
MOST_TIMES_ONE_INSERT = 15.0
BARE_SAID = "a bare view that INSERTs the body"
LATEST_MS = 60.0
MOST_TIMES = 3.0
ROOMS = 600
BARE = """
import os
import threading
import uuid
import psycopg
from flask import Flask, jsonify, request
from psycopg.types.json import Jsonb
app = Flask(__name__)
held = threading.local()
INSERT = "INSERT INTO bare_quotes (id, body) VALUES (%s, %s)"
@app.post("/v1/quotes")
def store():
    if not hasattr(held, "connection"):
        held.connection = psycopg.connect(os.environ["BARE_DATABASE"], autocommit=True)
    made = uuid.uuid4()
    held.connection.execute(INSERT, (made, Jsonb(request.get_json())))
    return jsonify(id=made), 201
"""
TIMED = (
    SERVICE
    + """
import time
from importlib import import_module
from service import pricing
compare = import_module("service.quoting.variants.compare")
spent = []
def timed(work):
    def run(*args, **named):
        began = time.perf_counter()
        try:
            return work(*args, **named)
        finally:
            spent.append(time.perf_counter() - began)
    return run
compare.take_off, pricing.goods = timed(compare.take_off), timed(pricing.goods)
@app.after_request
def told(answer):
    answer.headers["Spent-Ms"] = str(1000 * sum(spent))
    spent.clear()
    return answer
"""
)
"""The service, which tells how long take-off and basket took; asked by one client at a time."""


def room(number: int, tile: str) -> str:
    """A bathroom of 5 to 12 m2, another for each number."""
    length, width = 2600 + 7 * (number % 200), 1900 + 11 * (number % 93)
    door = {"wall": 0, "offset": 400, "width": 800, "adjoining": "wood", "adjoining_level": 12}
    ground = {
        "kind": "concrete_suspended",
        "flatness": {"gap": 3, "under": 3000},
        "moisture": {"method": "rh", "value": 70},
        "age_days": 900,
        "deflection": 480,
    }
    asked = {
        "name": "Bathroom",
        "rectangle": {"length": length, "width": width},
        "doorways": [door],
        "substrate": ground,
        "exposure": "wet",
        "tile": {"product": tile},
        "origin": "best",
        "joint": 3,
        "perimeter_joint": 6,
    }
    return json.dumps({"customer": {"name": f"Invented customer {number}"}, "rooms": [asked]})


@pytest.fixture
def asked(settings: Settings, live_engine: Engine, database_url: str) -> Asked:
    """What is sent; the invented office and the bare view's table are there."""
    seed(settings, KEY)
    with transaction(live_engine, ORGANISATION) as session:
        tile = product_ids(session)["tile-grey-300"]
    with psycopg.connect(libpq_url(database_url), autocommit=True) as connection:
        connection.execute("DROP TABLE IF EXISTS bare_quotes")
        connection.execute("CREATE TABLE bare_quotes (id uuid PRIMARY KEY, body jsonb NOT NULL)")
    headers = {"Content-Type": "application/json", "Authorization": f"Bearer {KEY}"}
    return Asked("/v1/quotes", headers, lambda number: room(number, tile), 201)


def test_beside_a_view_that_inserts_a_body(
    benchmark: BenchmarkFixture, settings: Settings, asked: Asked, database_url: str, tmp_path: Path
) -> None:
    """Rates are the medians of three rounds, by turns; the rest of a request is told one by one."""
    if benchmark.disabled or shutil.which("wrk") is None:
        pytest.skip("a measurement: wants --benchmark-enable and wrk")
    environ = {
        "DATABASE_URL": settings.database_url or "",
        "KEY_PEPPER": PEPPER,
        "BARE_DATABASE": libpq_url(database_url),
    }
    script = tmp_path / "post.lua"
    script.write_text(script_of(asked, ROOMS), "utf-8")
    with (
        served(BARE, tmp_path / "bare", environ, asked) as bare_site,
        served(SERVICE, tmp_path / "service", environ, asked) as own_site,
    ):
        rounds = [
            (requests_a_second(bare_site.port, script), requests_a_second(own_site.port, script))
            for _ in range(3)
        ]
        bare, own = (median(each) for each in zip(*rounds, strict=True))
        late = benchmark.pedantic(milliseconds, args=(own_site.port, asked, own / 2, 8.0), rounds=1)
        inserted = one_by_one(bare_site, asked, range(100))
    with served(TIMED, tmp_path / "timed", environ, asked) as timed:
        quoted = one_by_one(timed, asked, range(100))
    apart = median(quoted.told)
    rest = median(whole - part for whole, part in zip(quoted.taken, quoted.told, strict=True))
    bare_ms = median(inserted.taken)
    p95 = late[int(0.95 * len(late))]
    told = (
        f"bare {bare:.0f}/s, quotes {own:.1f}/s: 1/{bare / own:.1f}; p95 at half {p95:.1f} ms\n"
        f"one by one {median(quoted.taken):.1f} ms: take-off and basket {apart:.1f}, the rest {rest:.1f},"
        f" bare {bare_ms:.1f} ms: {rest / bare_ms:.1f} times\n"
        f"processor a request {quoted.processor:.1f} ms, bare {inserted.processor:.2f} ms;"
        f" load {os.getloadavg()[0]:.1f}"
    )
    print(f"\n{told}")
    note(
        benchmark, "a quote stored, beside one INSERT", bare / own, "times", MOST_TIMES_ONE_INSERT, BARE_SAID
    )
    note(benchmark, "p95 of quotes at half capacity", p95, "ms", LATEST_MS)
    note(benchmark, "a quote less take-off and basket", rest / bare_ms, "times", MOST_TIMES, BARE_SAID)
    assert bare / own <= MOST_TIMES_ONE_INSERT
    assert p95 < LATEST_MS
    assert rest / bare_ms <= MOST_TIMES
