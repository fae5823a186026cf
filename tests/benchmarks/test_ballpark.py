"""Ballparks beside a bare Flask view that echoes JSON, both under gunicorn with the same options, in one run,
and how late answers come at half of the capacity measured
(pytest --benchmark-enable -n 0 tests/benchmarks/test_ballpark.py; needs wrk).
"""

from __future__ import annotations

import http.client
import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from threading import Thread

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from sqlalchemy import Engine

from service.demo.seed import seed
from service.settings import Settings
from tests.api.conftest import settings
from tests.conftest import PEPPER

__all__ = ["settings"]
KEY = "key-of-the-benchmark"
BODY = json.dumps({"area_m2": 6.5, "room_kind": "bathroom", "exposure": "wet", "tile_size": "large"})
HEADERS = {"Content-Type": "application/json", "Authorization": f"Bearer {KEY}"}
SHARE = 1 / 3
LATEST_MS = 8.0
CLIENTS = 4
ECHO = """
from flask import Flask, jsonify, request
app = Flask(__name__)
@app.post("/v1/ballparks")
def echo():
    return jsonify(request.get_json())
"""
SERVICE = """
import os
from service import create_app
from service.settings import load_settings
app = create_app(load_settings(os.environ))
"""


@contextmanager
def served(code: str, folder: Path, environ: dict[str, str]) -> Iterator[int]:
    """One gunicorn worker of four threads, as `serve` starts them; its port."""
    folder.mkdir()
    (folder / "site_of_benchmark.py").write_text(code, "utf-8")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    options = ["-w", "1", "--threads", "4", "-k", "gthread", "--no-control-socket"]
    command = [sys.executable, "-m", "gunicorn", *options, "-b", f"127.0.0.1:{port}", "site_of_benchmark:app"]
    path = os.pathsep.join([str(folder), str(Path.cwd())])
    with subprocess.Popen(
        command, env={**os.environ, **environ, "PYTHONPATH": path}, cwd=folder, stderr=subprocess.DEVNULL
    ) as server:
        try:
            _wait(port)
            yield port
        finally:
            server.terminate()


def _wait(port: int) -> None:
    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.1)
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    connection.request("POST", "/v1/ballparks", BODY, HEADERS)
    answer = connection.getresponse()
    assert answer.status == 200, answer.read()
    connection.close()


def requests_a_second(port: int, script: Path) -> float:
    wrk = ["wrk", "-t1", "-c8", "-d4s", "-s", str(script), f"http://127.0.0.1:{port}/v1/ballparks"]
    told = subprocess.run(wrk, capture_output=True, text=True, check=True).stdout
    assert "Non-2xx" not in told, told
    return float(told.split("Requests/sec:")[1].split()[0])


def milliseconds(port: int, rate: float, seconds: float) -> list[float]:
    """From when each request was due to its answer, at a steady rate over a few connections, sorted."""
    taken: list[float] = []

    def client(number: int) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        began = time.perf_counter() + number / rate
        for place in range(int(rate * seconds / CLIENTS)):
            due = began + place * CLIENTS / rate
            time.sleep(max(0.0, due - time.perf_counter()))
            connection.request("POST", "/v1/ballparks", BODY, HEADERS)
            connection.getresponse().read()
            taken.append(1000 * (time.perf_counter() - due))
        connection.close()

    threads = [Thread(target=client, args=(number,)) for number in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(taken)


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
    headers = "".join(f'wrk.headers["{name}"] = "{value}"\n' for name, value in HEADERS.items())
    script.write_text(f'wrk.method = "POST"\nwrk.body = [[{BODY}]]\n{headers}', "utf-8")
    with (
        served(ECHO, tmp_path / "bare", {}) as bare_port,
        served(SERVICE, tmp_path / "service", environ) as own_port,
    ):
        rounds = [
            (requests_a_second(bare_port, script), requests_a_second(own_port, script)) for _ in range(3)
        ]
        bare, own = (median(each) for each in zip(*rounds, strict=True))
        late = benchmark.pedantic(milliseconds, args=(own_port, own / 2, 8.0), rounds=1)
        bare_late = milliseconds(bare_port, own / 2, 4.0)
    p99, bare_p99 = (each[int(0.99 * len(each))] for each in (late, bare_late))
    benchmark.extra_info.update(bare=bare, own=own, share=own / bare, p99_ms=p99, bare_p99_ms=bare_p99)
    late_ms = f"p99 at half {p99:.1f} ms (bare {bare_p99:.1f})"
    print(f"bare {bare:.0f}/s, ballparks {own:.0f}/s: {own / bare:.2f}; {late_ms}")  # noqa: T201
    assert own / bare >= SHARE
    assert p99 < LATEST_MS
