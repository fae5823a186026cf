"""Ballparks beside a bare Flask view that echoes JSON, both under gunicorn with the same options, in one run,
and how late answers come at half of the capacity measured
(pytest --benchmark-enable -n 0 tests/benchmarks/test_ballpark.py; needs wrk).
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from statistics import median

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from sqlalchemy import Engine

from service.demo.seed import seed
from service.settings import Settings
from tests.api.conftest import settings
from tests.benchmarks.ratios import note
from tests.benchmarks.serving import SERVICE, Asked, milliseconds, requests_a_second, script_of, served
from tests.conftest import PEPPER

__all__ = ["settings"]
KEY = "key-of-the-benchmark"
BODY = json.dumps({"area_m2": 6.5, "room_kind": "bathroom", "exposure": "wet", "tile_size": "large"})
HEADERS = {"Content-Type": "application/json", "Authorization": f"Bearer {KEY}"}
ASKED = Asked("/v1/ballparks", HEADERS, lambda _: BODY)
SHARE = 1 / 3
LATEST_MS = 8.0
ECHO = """
from flask import Flask, jsonify, request
app = Flask(__name__)
@app.post("/v1/ballparks")
def echo():
    return jsonify(request.get_json())
"""


def test_a_third_of_a_bare_view_and_soon_at_half_capacity(
    benchmark: BenchmarkFixture, settings: Settings, live_engine: Engine, tmp_path: Path
) -> None:
    """The median of three rounds each, by turns."""
    if benchmark.disabled or shutil.which("wrk") is None:
        pytest.skip("a measurement: wants --benchmark-enable and wrk")
    seed(settings, KEY)
    environ = {
        "DATABASE_URL": settings.database_url or "",
        "KEY_PEPPER": PEPPER,
        "BALLPARKS_PER_KEY": "100000000",
        "BALLPARKS_PER_ADDRESS": "100000000",
    }
    script = tmp_path / "post.lua"
    script.write_text(script_of(ASKED, 1), "utf-8")
    with (
        served(ECHO, tmp_path / "bare", {}, ASKED) as bare_site,
        served(SERVICE, tmp_path / "service", environ, ASKED) as own_site,
    ):
        rounds = [
            (requests_a_second(bare_site.port, script), requests_a_second(own_site.port, script))
            for _ in range(3)
        ]
        bare, own = (median(each) for each in zip(*rounds, strict=True))
        late = benchmark.pedantic(milliseconds, args=(own_site.port, ASKED, own / 2, 8.0), rounds=1)
        bare_late = milliseconds(bare_site.port, ASKED, own / 2, 4.0)
    p99, bare_p99 = (each[int(0.99 * len(each))] for each in (late, bare_late))
    note(benchmark, "a ballpark", bare / own, "times", 1 / SHARE, "a bare view that echoes JSON")
    note(benchmark, "p99 of ballparks at half capacity", p99, "ms", LATEST_MS)
    late_ms = f"p99 at half {p99:.1f} ms (bare {bare_p99:.1f})"
    print(f"bare {bare:.0f}/s, ballparks {own:.0f}/s: {own / bare:.2f}; {late_ms}")
    assert own / bare >= SHARE
    assert p99 < LATEST_MS
