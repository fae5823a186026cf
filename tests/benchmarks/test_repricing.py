"""Repricing many quotes, against one plain statement that inserts their new lines.

The floor joins the lines of all quotes to the newest prices and inserts them into a table with the same keys,
indexes, triggers and row security, under the same role. `REPRICED_QUOTES` sets how many quotes there are.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import psycopg
from pytest_benchmark.fixture import BenchmarkFixture
from sqlalchemy import Engine, select, text

from service.demo.seed import ORGANISATION, seed
from service.quoting.quotes import Actor
from service.quoting.repricing import steer
from service.settings import load_settings
from service.store.engine import libpq_url, make_engine
from service.store.models import ProductRow
from service.store.queue import REFRESH_BALLPARKS, enqueue
from service.store.session import transaction
from tests.repricing import office
from tests.repricing.many import multiply
from tests.repricing.test_killed import start

QUOTES = int(os.environ.get("REPRICED_QUOTES", "2000"))
REVISES, PREVIEWS = 4, 2
"""At most so many times the floor."""
MOST_MB = 300

TABLE = """
CREATE TABLE floor_lines (LIKE quote_lines INCLUDING ALL);
ALTER TABLE floor_lines ADD FOREIGN KEY (org_id) REFERENCES organisations,
    ADD FOREIGN KEY (org_id, quote_id, revision) REFERENCES quote_revisions,
    ADD FOREIGN KEY (org_id, supplier_id) REFERENCES suppliers,
    ADD FOREIGN KEY (org_id, product_id) REFERENCES products,
    ADD FOREIGN KEY (org_id, price_list_id) REFERENCES price_lists,
    ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY own_organisation ON floor_lines
    USING (org_id = nullif(current_setting('app.org', true), '')::uuid)
    WITH CHECK (org_id = nullif(current_setting('app.org', true), '')::uuid);
CREATE TRIGGER changed BEFORE UPDATE OR DELETE ON floor_lines
    FOR EACH ROW EXECUTE FUNCTION stored_quotes_are_final();
GRANT SELECT, INSERT ON floor_lines TO office_batch
"""
NAMES = (
    "org_id, quote_id, revision, position, kind, role, uplift_group, description, supplier_id, supplier_name,"
    " product_id, price_list_id, packs, pack_size, quantity, unit, cost, price, amount, allowance, note,"
    " rooms, needs, cutting, exchange"
)
FLOOR = text(f"""
INSERT INTO floor_lines ({NAMES})
SELECT l.org_id, l.quote_id, l.revision, l.position, l.kind, l.role, l.uplift_group, l.description,
    l.supplier_id, l.supplier_name, l.product_id, coalesce(n.price_list_id, l.price_list_id), l.packs,
    l.pack_size, l.quantity, l.unit, coalesce(n.price, l.cost), l.price,
    coalesce(round(l.packs * n.price, 2), l.amount), l.allowance, l.note, l.rooms, l.needs,
    l.cutting, l.exchange
FROM quote_lines AS l LEFT JOIN (
    SELECT i.product_id, p.supplier_id, i.pack_size, i.price_list_id, i.price
    FROM price_items AS i JOIN price_lists AS p ON p.org_id = i.org_id AND p.id = i.price_list_id
    WHERE p.kind = 'promotion' AND i.min_packs = 1
) AS n ON n.product_id = l.product_id AND n.supplier_id = l.supplier_id AND n.pack_size = l.pack_size
WHERE l.org_id = :org_id AND l.revision = 1 AND EXISTS (
    SELECT FROM quote_lines AS h JOIN price_items AS i ON i.org_id = h.org_id AND i.product_id = h.product_id
    JOIN price_lists AS p ON p.id = i.price_list_id AND p.kind = 'promotion' AND p.supplier_id = h.supplier_id
    WHERE h.org_id = l.org_id AND h.quote_id = l.quote_id AND h.revision = 1
)
""")  # noqa: S608


def made(make_database: Callable[..., str]) -> str:
    """Quotes of few rooms many times over, and other prices for a tenth of the products."""
    url = make_database("repriced_many")
    seed(load_settings({"DATABASE_URL": url}), "a key")
    engine = make_engine(url)
    rooms = [slice(None), slice(0, 1), slice(1, 2), slice(2, 3), slice(0, 2)]
    office.quotes(engine, rooms)
    multiply(url, max(1, QUOTES // len(rooms)))
    with transaction(engine, ORGANISATION) as session:
        products = sorted(session.scalars(select(ProductRow.id)))
        # the ballpark models of the invented office wait: fitting them takes a worker for minutes
        lock, tomorrow = f"ballparks/{ORGANISATION}", datetime.now(UTC) + timedelta(days=1)
        assert enqueue(session, REFRESH_BALLPARKS, {"org_id": str(ORGANISATION)}, lock, tomorrow)
    office.dearer(engine, "6.5", Random(1).sample(products, max(1, len(products) // 10)))
    with psycopg.connect(libpq_url(url), autocommit=True) as connection:
        connection.execute(TABLE)
        connection.execute("ANALYZE")
    engine.dispose()
    return url


def seconds_of(work: Callable[[], Any]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def floor(url: str) -> None:
    engine = make_engine(url, "office_batch")
    with transaction(engine, ORGANISATION) as session:
        session.execute(FLOOR, {"org_id": ORGANISATION})
    engine.dispose()


def repriced(engine: Engine, mode: str) -> None:
    """A run, ordered and waited for; workers run already."""
    with transaction(engine, ORGANISATION) as session:
        said = steer.Order(mode, price_date=office.NOW.date())
        run_id = steer.order(session, said, Actor(office.NOW)).id
    while True:
        with transaction(engine, ORGANISATION) as session:
            run = office.found(session, run_id)
        if run.state in ("done", "failed"):
            assert run.state == "done", run.failure
            assert run.changed > 0
            return
        time.sleep(0.05)


LOOPS = 2
"""Each worker asks for jobs in two loops: its jobs, and deliveries to webhooks."""


def wait_until_idle(url: str, workers: int) -> None:
    """Until all workers ask for jobs, and have done what activating the lists had them do.

    Without it their start would count as repricing.
    """
    query = (
        "SELECT (SELECT count(*) FROM jobs.procrastinate_workers) >= %s AND NOT EXISTS (SELECT"
        " FROM jobs.procrastinate_jobs WHERE status IN ('todo', 'doing')"
        " AND coalesce(scheduled_at <= now(), true))"
    )
    with psycopg.connect(libpq_url(url), autocommit=True) as connection:
        while connection.execute(query, (LOOPS * workers,)).fetchone() != (True,):
            time.sleep(0.1)
        connection.execute("ANALYZE")


def megabytes(pid: int) -> float:
    """The most memory that a process held; 0 where the system does not tell."""
    status = Path(f"/proc/{pid}/status")
    lines = status.read_text().splitlines() if status.exists() else []
    return next((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM")), 0.0)


def test_against_one_plain_statement(make_database: Callable[..., str], benchmark: BenchmarkFixture) -> None:
    url = made(make_database)
    engine = make_engine(url)
    workers = [start(url) for _ in range(2)]
    try:
        noted = seconds_of(lambda: wait_until_idle(url, len(workers)))
        least = seconds_of(lambda: floor(url))
        preview = seconds_of(lambda: repriced(engine, "preview"))
        revise = seconds_of(lambda: benchmark.pedantic(repriced, (engine, "revise"), rounds=1))
        most = max(megabytes(worker.pid) for worker in workers)
    finally:
        for worker in workers:
            worker.kill()
            worker.wait()
    engine.dispose()
    load = os.getloadavg()[0]
    print(f"\n{QUOTES} quotes, a tenth of the products dearer, two workers; load {load:.1f}")
    print(f"  workers started, open quotes marked in {noted:.1f} s")
    print(f"  plain statement {least:7.2f} s")
    print(f"  preview         {preview:7.2f} s  {preview / least:5.2f} times (at most {PREVIEWS})")
    print(f"  revise          {revise:7.2f} s  {revise / least:5.2f} times (at most {REVISES})")
    print(f"  memory          {most:7.0f} MB (under {MOST_MB})")
    assert most < MOST_MB
    if QUOTES >= 20_000:  # with fewer what each run needs at least outweighs the rest
        assert preview <= PREVIEWS * least
        assert revise <= REVISES * least
