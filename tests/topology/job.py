"""The demo's job through the proxy, and what the queue did meanwhile."""

from __future__ import annotations

import json
import time
import urllib.request
from typing import Any

import psycopg

from service.demo.run import demo_job
from service.demo.seed import ORGANISATION, product_ids, seed
from service.settings import load_settings
from service.store.engine import libpq_url, make_engine
from service.store.session import transaction
from tests.topology.run import PATIENCE_S, Topology


def call(top: Topology, path: str, key: str, body: Any = None, **headers: str) -> Any:
    """The document that the proxy answers to a GET, or to a POST of a body."""
    named = {"Authorization": f"Bearer {key}", "Content-Type": "application/json"}
    named |= {name.replace("_", "-"): value for name, value in headers.items()}
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(f"{top.url}{path}", data, named)
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        return json.load(answer)


def seeded(top: Topology) -> str:
    """The key of the invented organisation, seeded under the API's own settings and login."""
    return seed(load_settings(top.environment("api_1")))


def demo_quote(top: Topology, key: str, **more: Any) -> Any:
    """The stored quote as read back through the proxy; `more` is sent beside the rooms."""
    engine = make_engine(top.database)
    try:
        with transaction(engine, ORGANISATION) as session:
            job = demo_job(product_ids(session))
    finally:
        engine.dispose()
    made = call(top, "/v1/quotes", key, {**job, **more})
    return call(top, f"/v1/quotes/{made['id']}", key)


def jobs_done(top: Topology) -> dict[str, int]:
    """Jobs by state, once none waits or runs but what is for later."""
    query = """SELECT status::text, count(*) FROM jobs.procrastinate_jobs
        WHERE scheduled_at IS NULL OR scheduled_at <= now() GROUP BY 1"""
    until = time.monotonic() + PATIENCE_S
    with psycopg.connect(libpq_url(top.database), autocommit=True) as connection:
        while True:
            found = dict(connection.execute(query).fetchall())
            if found and not {"todo", "doing"} & found.keys():
                return found
            assert time.monotonic() < until, found
            time.sleep(0.1)
