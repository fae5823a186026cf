"""Bodies sent to the real server, large ones and in chunks, by clients that write all before they read."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest

from service.settings import Settings
from tests.api.conftest import Office
from tests.conftest import PEPPER

ROOT = Path(__file__).parents[2]
BODY = b'{"name": "' + b"x" * 10_000_000 + b'"}'
SERVE = (sys.executable, "-m", "service", "serve", "--workers", "1", "--port")


@pytest.fixture(scope="module")
def port(settings: Settings) -> Iterator[int]:
    """The service under gunicorn in a process of its own, on the tests' database."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {
        **os.environ,
        "DATABASE_URL": str(settings.database_url),
        "KEY_PEPPER": PEPPER,
        "MAX_BODY_BYTES": "2000000",
    }
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen([*SERVE, str(port)], cwd=ROOT, env=environment, **quiet) as server:  # type: ignore[call-overload]
        try:
            _wait_for(port)
            yield port
        finally:
            server.terminate()


def _wait_for(port: int) -> None:
    until = time.monotonic() + 60
    while True:
        try:
            socket.create_connection(("127.0.0.1", port)).close()
            return
        except OSError:
            assert time.monotonic() < until, "the server does not come up"
            time.sleep(0.1)


def sent(port: int, path: str, body: bytes | Iterable[bytes], key: str, **headers: str) -> tuple[int, Any]:
    """Status and document of a POST by urllib, which sends all of it first; in chunks if it is many."""
    named = {"Content-Type": "application/json", "Authorization": f"Bearer {key}"}
    named |= {name.replace("_", "-"): value for name, value in headers.items()}
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", body, named)  # type: ignore[arg-type]
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, json.load(refused)


def test_ten_megabytes_are_told_the_limit(port: int, office: Office) -> None:
    status, problem = sent(port, "/v1/takeoffs", BODY, office.key)
    assert (status, problem["status"]) == (413, 413)
    assert "2000000 bytes" in problem["detail"]


def test_ten_megabytes_in_chunks_are_told_the_limit(port: int, office: Office) -> None:
    chunks = (BODY[start : start + 65_536] for start in range(0, len(BODY), 65_536))
    status, problem = sent(port, "/v1/takeoffs", chunks, office.key)
    assert (status, problem["status"]) == (413, 413)
    assert "2000000 bytes" in problem["detail"]


def test_a_smaller_body_is_read_as_ever(port: int, office: Office) -> None:
    status, problem = sent(port, "/v1/takeoffs", b'{"rooms": []}', office.key)
    assert (status, problem["errors"][0]["pointer"]) == (422, "/rooms")


def test_bodies_in_chunks_under_one_key_are_told_apart(port: int, office: Office) -> None:
    def supplier(name: str) -> tuple[int, Any]:
        body = [json.dumps({"name": name, "currency": "USD"}).encode()]
        return sent(port, "/v1/suppliers", body, office.key, Idempotency_Key="the-same-key")

    (first, made), (again, same), (other, problem) = supplier("One"), supplier("One"), supplier("Two")
    assert (first, again, other) == (201, 201, 422)
    assert made == same
    assert problem["status"] == 422
