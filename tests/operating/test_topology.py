"""The service as it is deployed: a proxy, two replicas, shared limits, two workers, a login of its own."""

from __future__ import annotations

import json
import os
import tempfile
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import Engine

from service.store.engine import libpq_url
from tests.operating.person import EMAIL, PERSON, told_of
from tests.topology import job
from tests.topology.run import Topology, missing, small_topology, topology

ROOM = {"area_m2": 6, "room_kind": "bathroom"}
SPOOFED = {"X-Forwarded-For": "192.0.2.66"}


@pytest.fixture
def programs() -> None:
    """Skips where the programs are not on this machine, or fails where TOPOLOGY_TESTS=required."""
    if missing() and os.environ.get("TOPOLOGY_TESTS") == "required":
        pytest.fail(f"TOPOLOGY_TESTS=required, and not on this machine: {', '.join(missing())}")
    if missing():
        pytest.skip(f"not on this machine: {', '.join(missing())}; apt-get install nginx redis-server")


@pytest.fixture
def small(programs: None, tmp_path: Path, live_engine: Engine, database_url: str) -> Iterator[Topology]:
    with small_topology(tmp_path, database_url, BALLPARKS_PER_ADDRESS="4") as top:
        yield top


def ballpark(url: str, key: str, **headers: str) -> tuple[int, str]:
    """Status and what is left for this address."""
    sent = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
    sent |= {name.replace("_", "-"): value for name, value in headers.items()}
    request = urllib.request.Request(f"{url}/v1/ballparks", json.dumps(ROOM).encode(), sent)
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.status, answer.headers["RateLimit"]
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, refused.headers["RateLimit"]


def test_replicas_share_limits_by_the_address_that_the_proxy_saw(small: Topology) -> None:
    key = job.seeded(small)
    quote = job.demo_quote(small, key, customer=PERSON)
    assert quote["state"] == "draft"
    assert float(quote["totals"]["gross"]) > 0
    seen = [ballpark(small.url, key, **SPOOFED) for _ in range(5)]
    assert [status for status, _ in seen] == [200, 200, 200, 200, 429]
    assert '"address";r=0' in seen[-1][1]
    logged = [small.log(name).count('"/v1/ballparks"') for name in ("api_1", "api_2")]
    assert min(logged) > 0, "both replicas answered"
    assert closed(f"{small.url}/metrics") == 404
    assert closed(f"{small.url}/v1/customers/{EMAIL}") == 404
    assert logs_tell_of_nobody(small)


def logs_tell_of_nobody(top: Topology) -> bool:
    """Every line of the service's own processes is JSON, and no log of any tells of the customer."""
    for file in top.folder.glob("*.log"):
        text = file.read_text()
        assert told_of(text) == [], file.name
        if file.name.startswith(("api", "worker")):
            assert [json.loads(line)["event"] for line in text.splitlines()], file.name
    return True


def closed(url: str) -> int:
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(url, timeout=30)
    refused.value.close()
    return refused.value.code


@pytest.mark.full
def test_the_demo_through_everything(programs: None) -> None:
    # not in pytest's own folder, which each session closes to PostgreSQL's user
    with tempfile.TemporaryDirectory() as folder, topology(Path(folder)) as top:
        key = job.seeded(top)
        assert float(job.demo_quote(top, key, customer=PERSON)["totals"]["gross"]) > 0
        assert job.jobs_done(top).keys() == {"succeeded"}
        assert top.stop("api_1") == 0
        assert float(job.demo_quote(top, key)["totals"]["gross"]) > 0, "one replica is enough"
        login_owns_nothing(top)
        counted = urllib.request.urlopen(f"http://127.0.0.1:{top.ports['worker_1']}/metrics", timeout=30)
        with counted:
            assert b"floors_jobs_total" in counted.read()
        for name in ("worker_1", "worker_2", "api_2"):
            assert top.stop(name) == 0, top.log(name)
        assert logs_tell_of_nobody(top)


def login_owns_nothing(top: Topology) -> None:
    """The API's own login reads no tenant's rows and may not become the owner."""
    url = top.environment("api_1")["DATABASE_URL_FILE"]
    with psycopg.connect(libpq_url(Path(url).read_text()), autocommit=True) as connection:
        for refused in ("SELECT * FROM quotes", "SET ROLE office_owner", "CREATE TABLE mine (n int)"):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                connection.execute(refused)
