"""Twice as much as can be done, and very many requests. MEMORY_REQUESTS=200000 for the long run."""

from __future__ import annotations

import os
import statistics
import sys
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import pytest

from tests.faults.house import House, house

pytestmark = pytest.mark.full

SECONDS = 8.0
OVER_S = 20.0
SETTINGS = {"MAX_REQUESTS": "0", "REQUESTS_PER_KEY": "1000000", "THREADS": "2", "MAX_WAITING": "4"}
"""Short queues, so that they are full soon on a slow machine too."""
REQUESTS = int(os.environ.get("MEMORY_REQUESTS", "6000"))
SAMPLES = 20


def told(figures: str) -> None:
    """For `pytest -s`."""
    sys.stdout.write(f"\n{figures}\n")


class Done(NamedTuple):
    status: int
    took_s: float
    retry_after: str | None


@pytest.fixture(scope="module")
def served() -> Iterator[House]:
    with house(**SETTINGS) as found:
        found.start_api()
        yield found


def one(served: House) -> Done:
    began = time.perf_counter()
    answer = served.quote(uuid.uuid4().hex)
    return Done(answer.status, time.perf_counter() - began, answer.headers.get("Retry-After"))


def as_fast_as_answered(served: House, callers: int) -> float:
    """Quotes a second."""
    until = time.monotonic() + SECONDS

    def ask(_: int) -> int:
        made = 0
        while time.monotonic() < until:
            assert one(served).status == 201
            made += 1
        return made

    began = time.monotonic()
    with ThreadPoolExecutor(callers) as pool:
        made = sum(pool.map(ask, range(callers)))
    return made / (time.monotonic() - began)


def at_a_rate(served: House, rate: float) -> list[Done]:
    """Requests begun at an even rate, whatever becomes of those before."""
    began, place, lock, done = time.monotonic(), iter(range(int(rate * OVER_S))), threading.Lock(), []

    def ask(_: int) -> None:
        while True:
            with lock:
                turn = next(place, None)
            if turn is None:
                return
            time.sleep(max(0.0, began + turn / rate - time.monotonic()))
            done.append(one(served))

    with ThreadPoolExecutor(200) as pool:
        list(pool.map(ask, range(200)))
    return done


def test_at_twice_its_capacity_it_refuses_early_and_keeps_its_pace(served: House) -> None:
    as_fast_as_answered(served, 2)  # warm
    before = max(as_fast_as_answered(served, callers) for callers in (4, 8))
    began = time.monotonic()
    done = at_a_rate(served, 2 * before)
    kept = sum(one.status == 201 for one in done) / (time.monotonic() - began)
    best = statistics.mean((before, as_fast_as_answered(served, 8)))  # the machine may have others to serve
    refused = [one for one in done if one.status != 201]
    told(f"best {best:.1f}/s, at twice that {kept:.1f}/s, {len(refused)} of {len(done)} refused")
    told(f"refused within {statistics.median(one.took_s for one in refused):.3f} s")
    assert {one.status for one in done} == {201, 503}
    assert all(one.retry_after for one in refused)
    assert statistics.median(one.took_s for one in refused) < 0.5
    assert kept >= 0.9 * best


def test_memory_is_flat(served: House) -> None:
    """What the processes hold for themselves, after the caches are full: the second half adds nothing."""
    kinds: list[Callable[[], object]] = [
        lambda: served.quote(uuid.uuid4().hex),
        lambda: served.call("GET", "/v1/quotes?limit=20"),
        lambda: served.call("POST", "/v1/quotes", {"rooms": []}),
        lambda: served.call("GET", f"/v1/quotes/{uuid.uuid4()}"),
        lambda: served.call("GET", "/v1/products"),
        lambda: served.call("POST", "/v1/takeoffs", {"rooms": served.job["rooms"]}),
        lambda: served.call("GET", "/healthz"),
        lambda: served.call("GET", "/metrics"),
    ]
    held = []
    with ThreadPoolExecutor(4) as pool:
        for _ in range(SAMPLES):
            asked = REQUESTS // SAMPLES
            list(pool.map(lambda number: kinds[number % len(kinds)](), range(asked)))
            held.append(sum(child.memory_full_info().uss for child in served.children("api")) / 1e6)
    told(f"{REQUESTS} requests; MB held: {', '.join(f'{one:.0f}' for one in held)}")
    half = held[SAMPLES // 2]
    assert held[-1] < half * 1.05
