"""One of each in small: a process and the database killed under load, a slow client, a polite end."""

from __future__ import annotations

import socket
from collections.abc import Iterator

import pytest

from tests.faults.house import BROKEN, READY_WITHIN_S, SHUT, House, house
from tests.faults.load import ensure_nothing_lost, load


@pytest.fixture(scope="module")
def served() -> Iterator[House]:
    with house() as found:
        found.start_api()
        yield found


def test_a_killed_process_and_a_killed_database_lose_nothing(served: House) -> None:
    with load(served, callers=3) as found:
        served.until(lambda: found.made() > 2)
        served.children("api")[0].kill()
        served.until_ready()
        served.kill_database()
        served.until(lambda: found.statuses()[503] > 0)
        served.start_database()
        served.until_ready()
        before = found.made()
        served.until(lambda: found.made() > before + 2)
    assert set(found.statuses()) <= {BROKEN, 201, 503}
    ensure_nothing_lost(found)


def test_who_says_nothing_or_half_of_it_keeps_nobody_waiting(served: House) -> None:
    silent = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(20)]
    for half in silent[10:]:
        half.sendall(b"POST /v1/quotes HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n")
    took = served.until(lambda: served.call("GET", "/healthz", timeout=READY_WITHIN_S).status == 200)
    assert took < 2
    for one in silent:
        one.close()


def test_a_polite_end_answers_all_that_came_in(served: House) -> None:
    """Who came later found the door shut, and nobody an answer broken off."""
    with load(served, callers=6) as found:
        served.until(lambda: found.made() > 2)
        assert served.stop("api") == 0
        served.until(lambda: found.statuses()[SHUT] > 0)
    assert set(found.statuses()) == {201, SHUT}
    served.start_api()
    ensure_nothing_lost(found)
