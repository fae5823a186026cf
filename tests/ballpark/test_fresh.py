"""Look-ups kept for some seconds: read by one thread, never older than promised; quotas over processes."""

from __future__ import annotations

import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from threading import Event, Thread

import pytest

from service.api.framework.limits import Limits, OwnCounts, counted_as
from service.quoting.ballparks.fresh import OLDEST_S, READ_AGAIN_S, Fresh
from service.settings import Settings, load_settings


class Clock:
    now = 100.0

    def __call__(self) -> float:
        return self.now


def test_a_change_is_seen_within_five_seconds() -> None:
    clock, stored = Clock(), {"key": 1}
    fresh: Fresh[str, int] = Fresh(lambda key, _: stored[key], clock=clock)
    assert fresh.get("key") == 1
    stored["key"] = 2
    clock.now += READ_AGAIN_S - 0.1
    assert fresh.get("key") == 1
    clock.now += 0.2
    assert fresh.get("key") == 2
    assert OLDEST_S < 5


def test_one_reads_while_the_others_use_what_is_known() -> None:
    clock, reads, begun, go_on = Clock(), [], Event(), Event()

    def load(key: str, before: int | None) -> int:
        reads.append(key)
        if before is not None:
            begun.set()
            go_on.wait(5)
        return len(reads)

    fresh: Fresh[str, int] = Fresh(load, clock=clock)
    assert fresh.get("key") == 1
    clock.now += READ_AGAIN_S + 0.1
    reader = Thread(target=fresh.get, args=("key",))
    reader.start()
    assert begun.wait(5)
    assert [fresh.get("key") for _ in range(3)] == [1, 1, 1]
    go_on.set()
    reader.join()
    assert (fresh.get("key"), len(reads)) == (2, 2)


def test_what_cannot_be_read_is_not_answered_from_old_values() -> None:
    clock, broken = Clock(), []

    def load(key: str, _: int | None) -> int:
        if broken:
            raise OSError("no database")
        return 1

    fresh: Fresh[str, int] = Fresh(load, clock=clock)
    fresh.get("key")
    broken.append(True)
    clock.now += OLDEST_S + 0.1
    with pytest.raises(OSError, match="no database"):
        fresh.get("key")


def test_strangers_do_not_fill_the_memory() -> None:
    fresh: Fresh[int, int] = Fresh(lambda key, _: key, most=10)
    for key in range(1000):
        fresh.get(key)
    assert len(fresh._entries) == 10


def settings(**given: str) -> Settings:
    return load_settings({"DATABASE_URL": "postgresql://nowhere", **given})


def test_without_redis_each_process_lets_through_its_share() -> None:
    own = Limits(replace(settings(BALLPARKS_PER_KEY="10"), processes=4))
    assert [own.hit("key", "a").allowed for _ in range(4)] == [True, True, True, False]
    assert own.hit("key", "b").allowed


def test_a_minute_of_counting_is_forgotten_as_a_whole() -> None:
    """By no thread beside: of a library's counts in memory each request may start a timer."""
    clock = Clock()
    counts, before = OwnCounts(clock), threading.active_count()
    hits = [counts.hit("key", 2, who) for who in ("a", "a", "a", "b")]
    assert [(hit.allowed, hit.left) for hit in hits] == [(True, 1), (True, 0), (False, 0), (True, 1)]
    assert hits[0].reset_s == 20  # 100 s: the second minute ends at 120
    clock.now = 119.9
    assert not counts.hit("key", 2, "a").allowed
    clock.now = 120
    assert counts.hit("key", 2, "a").allowed
    assert len(counts._counts) == 1
    assert threading.active_count() == before


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("2001:db8:1:2:aaaa::1", "2001:db8:1:2:bbbb::9", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("192.0.2.1", "192.0.2.2", False),
        ("::ffff:192.0.2.1", "192.0.2.1", True),
        ("::ffff:192.0.2.1", "::ffff:192.0.2.2", False),
    ],
)
def test_addresses_of_one_network_of_64_bits_count_together(one: str, other: str, same: bool) -> None:
    """RFC 4291, 2.5.4: interface identifiers have 64 bits, which hosts change as they like (RFC 8981)."""
    assert (counted_as(one) == counted_as(other)) is same


@pytest.fixture
def redis_url(tmp_path: Path) -> Iterator[str]:
    program = shutil.which("redis-server")
    if program is None:
        pytest.skip("redis-server is not installed")
    socket = tmp_path / "redis.sock"
    options = ["--port", "0", "--unixsocket", str(socket), "--save", "", "--appendonly", "no"]
    with subprocess.Popen([program, *options], cwd=tmp_path, stdout=subprocess.DEVNULL) as server:
        for _ in range(100):
            if socket.exists():
                break
            time.sleep(0.05)
        yield f"redis+unix://{socket}"
        server.terminate()


def test_processes_share_a_quota_through_redis(redis_url: str) -> None:
    """Two Limits stand for two processes: nothing but Redis is shared between them."""
    of = settings(BALLPARKS_PER_KEY="3", RATE_LIMIT_REDIS_URL=redis_url)
    first, second = Limits(replace(of, processes=2)), Limits(replace(of, processes=2))
    hits = [first.hit("key", "a"), second.hit("key", "a"), first.hit("key", "a"), second.hit("key", "a")]
    assert [(hit.allowed, hit.left) for hit in hits] == [(True, 2), (True, 1), (True, 0), (False, 0)]


def test_without_its_redis_a_process_counts_alone() -> None:
    alone = Limits(settings(BALLPARKS_PER_KEY="1", RATE_LIMIT_REDIS_URL="redis://127.0.0.1:1"))
    assert [alone.hit("key", "a").allowed for _ in range(2)] == [True, False]
