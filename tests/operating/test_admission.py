"""Who is let in, who waits, who is refused; and how long a client is listened to."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterable
from typing import Any

import pytest
from werkzeug.test import Client

from service import listening
from service.api.framework import admission
from service.api.framework.admission import Admission
from service.api.framework.limits import OwnCounts
from service.settings import load_settings

ONE_AND_ONE = load_settings({"THREADS": "1", "MAX_WAITING": "1"})


class Slow:
    """An application that works until it is let go."""

    def __init__(self) -> None:
        self.begun = threading.Semaphore(0)
        self.let_go = threading.Event()

    def __call__(self, environ: Any, start_response: Callable[..., Any]) -> Iterable[bytes]:
        if environ["PATH_INFO"] not in admission.ALWAYS:
            self.begun.release()
            self.let_go.wait(10)
        start_response("200 OK", [])
        return [environ["wsgi.input"].read()]


def test_who_comes_when_all_work_and_enough_wait_is_refused_at_once() -> None:
    app = Slow()
    door = Admission(app, ONE_AND_ONE)
    answers: list[bytes] = []
    inside = [threading.Thread(target=lambda: answers.append(Client(door).post("/", data=b"x").data))]
    inside[0].start()
    assert app.begun.acquire(timeout=5)
    inside.append(threading.Thread(target=lambda: answers.append(Client(door).post("/", data=b"y").data)))
    inside[1].start()
    until = time.monotonic() + 5
    while door._waiting._value:  # type: ignore[attr-defined]
        assert time.monotonic() < until
    refused = Client(door).get("/v1/quotes", headers={"X-Request-Id": "abcdefgh"})
    assert (refused.status_code, refused.headers["Retry-After"]) == (503, "2")
    assert refused.json["type"] == "/problems/too-busy"
    assert refused.json["request_id"] == refused.headers["X-Request-Id"] == "abcdefgh"
    assert Client(door).get("/readyz").status_code == 200
    app.let_go.set()
    for thread in inside:
        thread.join()
    assert sorted(answers) == [b"x", b"y"]
    assert Client(door).get("/v1/quotes").status_code == 200


def test_who_waits_too_long_is_refused_and_leaves_no_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(admission, "LONGEST_WAIT_S", 0.01)
    app = Slow()
    door = Admission(app, ONE_AND_ONE)
    worker = threading.Thread(target=lambda: Client(door).get("/"))
    worker.start()
    assert app.begun.acquire(timeout=5)
    assert [Client(door).get("/").status_code for _ in range(3)] == [503] * 3
    app.let_go.set()
    worker.join()
    assert [Client(door).get("/").status_code for _ in range(3)] == [200] * 3


def test_a_request_that_fails_gives_its_place_back() -> None:
    def fails(*_: Any) -> Iterable[bytes]:
        raise RuntimeError

    door = Admission(fails, ONE_AND_ONE)
    for _ in range(3):
        with pytest.raises(RuntimeError):
            Client(door).get("/")


def test_a_request_that_drips_ends_and_one_at_a_pace_does_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(listening, "PATIENCE_S", 0.1)
    monkeypatch.setattr(listening, "SLOWEST_BYTES_S", 1000)
    near, far = socket.socketpair()
    with near, far:
        paced = listening.Paced(near)
        far.sendall(b"x" * 600)
        assert paced.recv(600) == b"x" * 600
        time.sleep(0.2)  # over the patience, within what 600 bytes have earned
        far.sendall(b"y")
        assert paced.recv(10) == b"y"
        began = time.monotonic()
        assert paced.recv(10) == b""
        assert time.monotonic() - began > 0.2
        far.sendall(b"late")
        assert paced.recv(10) == b""
        paced.begin()
        assert paced.recv(10) == b"late"


def test_a_clock_set_back_begins_limits_anew() -> None:
    now = [86_400.0 * 365]
    counted = OwnCounts(lambda: now[0])
    assert [counted.hit("requests", 2, "key").allowed for _ in range(3)] == [True, True, False]
    now[0] -= 86_400
    assert [counted.hit("requests", 2, "key").allowed for _ in range(3)] == [True, True, False]
