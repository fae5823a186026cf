"""Repricing many quotes, against one plain statement that inserts their new lines.

The floor joins the lines of all quotes to the newest prices and inserts them into a table with the same keys,
indexes, triggers and row security, under the same role. `REPRICED_QUOTES` sets how many quotes there are,
several numbers (100000,1000000) make a table each.
"""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import psycopg
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from sqlalchemy import Engine, select, text

from service.demo.run import demo_job
from service.demo.seed import ORGANISATION, product_ids, seed
from service.quoting.quotes import Actor, make_quote
from service.quoting.repricing import steer
from service.settings import load_settings
from service.store.engine import libpq_url, make_engine
from service.store.models import ProductRow, Repricing
from service.store.queue import REFRESH_BALLPARKS, enqueue
from service.store.session import transaction
from tests.benchmarks.ratios import note
from tests.repricing import office
from tests.repricing.many import multiply
from tests.repricing.test_killed import start

SIZES = [int(size) for size in os.environ.get("REPRICED_QUOTES", "500").split(",")]
TELLING = 20_000
"""With fewer quotes what each run needs at least outweighs the rest."""
REVISES, PREVIEWS = 4, 2
"""At most so many times the floor."""
GROWS = 1.1
"""At most so many times longer for each quote, the more of them there are."""
CHOSEN_PER_S = 200
DIFFERENT, DIFFERENT_PER_S = 200, 40
"""Quotes of which no two need the same, and how many a second are done at least: each basket is solved."""
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


def made(make_database: Callable[..., str], quotes: int) -> str:
    """Quotes of one room many times over, and other prices for a tenth of the products."""
    url = make_database(f"repriced_{quotes}")
    seed(load_settings({"DATABASE_URL": url}), "a key")
    engine = make_engine(url)
    few = ((3200, 2400), (4100, 3300))
    for length, width in few:
        plain_quote(engine, length, width)
    multiply(url, max(1, quotes // len(few)))
    prices_change(engine, url)
    engine.dispose()
    return url


def plain_quote(engine: Engine, length: int, width: int) -> None:
    """Of one dry room of these sides [mm], in two dozen lines."""
    with transaction(engine, ORGANISATION) as session:
        room, *_ = demo_job(product_ids(session))["rooms"]
        kept = {name: value for name, value in room.items() if name not in {"existing", "doorways"}}
        asked = office.request(session, rooms=[{**kept, "rectangle": {"length": length, "width": width}}])
        make_quote(session, asked, office.NOW)


HELD = text("SELECT DISTINCT min(product_id::text)::uuid FROM quote_lines GROUP BY quote_id, revision")
"""A product of each quote, so that all of them hold one that changes."""


def prices_change(engine: Engine, url: str) -> None:
    """A tenth of the products becomes dearer."""
    with transaction(engine, ORGANISATION) as session:
        held, products = set(session.scalars(HELD)), sorted(session.scalars(select(ProductRow.id)))
        # the ballpark models of the invented office wait: fitting them takes a worker for minutes
        lock, tomorrow = f"ballparks/{ORGANISATION}", datetime.now(UTC) + timedelta(days=1)
        assert enqueue(session, REFRESH_BALLPARKS, {"org_id": str(ORGANISATION)}, lock, tomorrow)
    others = Random(1).sample([id_ for id_ in products if id_ not in held], len(products) // 10 - len(held))
    office.dearer(engine, "6.5", [*held, *others])
    with psycopg.connect(libpq_url(url), autocommit=True) as connection:
        connection.execute(TABLE)
        connection.execute("ANALYZE")


def seconds_of(work: Callable[[], Any]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def floor(url: str) -> None:
    engine = make_engine(url, "office_batch")
    with transaction(engine, ORGANISATION) as session:
        session.execute(FLOOR, {"org_id": ORGANISATION})
    engine.dispose()


def repriced(engine: Engine, mode: str, choice: str = "keep") -> Repricing:
    """A run, ordered and waited for; workers run already."""
    with transaction(engine, ORGANISATION) as session:
        said = steer.Order(mode, choice, price_date=office.NOW.date())
        run_id = steer.order(session, said, Actor(office.NOW)).id
    while True:
        with transaction(engine, ORGANISATION) as session:
            run = office.found(session, run_id)
        if run.state in ("done", "failed"):
            assert run.state == "done", run.failure
            assert run.changed > 0
            return run
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


@contextmanager
def working(url: str) -> Iterator[list[subprocess.Popen[bytes]]]:
    """Two workers that are ready."""
    workers = [start(url) for _ in range(2)]
    try:
        wait_until_idle(url, len(workers))
        yield workers
    finally:
        for worker in workers:
            worker.kill()
            worker.wait()


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds, and the most memory of a worker [MB]."""

    floor: float
    preview: float
    choose: float
    revise: float
    memory: float


def timed(url: str) -> Times:
    engine = make_engine(url)
    with working(url) as workers:
        seconds = (
            seconds_of(lambda: floor(url)),
            seconds_of(lambda: repriced(engine, "preview")),
            seconds_of(lambda: repriced(engine, "preview", "choose")),
            seconds_of(lambda: repriced(engine, "revise")),
        )
        most = max(megabytes(worker.pid) for worker in workers)
    engine.dispose()
    return Times(*seconds, most)


def lines_of(url: str) -> float:
    """Lines of a quote, on average."""
    with psycopg.connect(libpq_url(url)) as connection:
        query = "SELECT count(*)::float / count(DISTINCT (quote_id, revision)) FROM quote_lines"
        return float(connection.execute(query).fetchone()[0])  # type: ignore[index]


def table(url: str, quotes: int, took: Times) -> str:
    preview, revise = took.preview / took.floor, took.revise / took.floor
    least = f"least {CHOSEN_PER_S}"
    what = f"{quotes} quotes of {lines_of(url):.0f} lines, a tenth of the products dearer"
    rows = (
        f"{what}, two workers; load {os.getloadavg()[0]:.1f}",
        f"  plain statement {took.floor:7.2f} s",
        f"  preview         {took.preview:7.2f} s  {preview:5.2f} times (most {PREVIEWS})",
        f"  revise          {took.revise:7.2f} s  {revise:5.2f} times (most {REVISES})",
        f"  choose          {took.choose:7.2f} s  {quotes / took.choose:5.0f} a second ({least})",
        f"  memory          {took.memory:7.0f} MB (under {MOST_MB})",
    )
    return "\n".join(("", *rows))


def note_times(benchmark: BenchmarkFixture, quotes: int, took: Times) -> None:
    if quotes >= TELLING:
        said = "one statement that inserts the lines"
        note(
            benchmark,
            f"{quotes} quotes repriced, previewed",
            took.preview / took.floor,
            "times",
            PREVIEWS,
            said,
        )
        note(
            benchmark, f"{quotes} quotes repriced, revised", took.revise / took.floor, "times", REVISES, said
        )
        chosen = f"{quotes} quotes repriced, bought anew"
        note(benchmark, chosen, quotes / took.choose, "a s", CHOSEN_PER_S, least=True)
    note(benchmark, "memory of a repricing worker", took.memory, "MB", MOST_MB)


def test_against_one_plain_statement(make_database: Callable[..., str], benchmark: BenchmarkFixture) -> None:
    found: dict[int, Times] = {}
    for quotes in SIZES:
        url = made(make_database, quotes)
        found[quotes] = timed(url) if found else benchmark.pedantic(timed, (url,), rounds=1)
        print(table(url, quotes, found[quotes]))
        note_times(benchmark, quotes, found[quotes])
    least = min(SIZES)
    for quotes, took in found.items():
        assert took.memory < MOST_MB
        if quotes >= TELLING:
            assert took.choose * CHOSEN_PER_S <= quotes
            assert took.preview <= PREVIEWS * took.floor
            assert took.revise <= REVISES * took.floor
            assert took.revise / quotes <= GROWS * found[least].revise / least


def test_baskets_of_which_no_two_are_equal(
    make_database: Callable[..., str], pytestconfig: pytest.Config
) -> None:
    if not pytestconfig.getoption("benchmark_enable"):
        pytest.skip("a measurement: wants --benchmark-enable")
    url = make_database("repriced_different")
    seed(load_settings({"DATABASE_URL": url}), "a key")
    engine, random = make_engine(url), Random(3)
    for _ in range(DIFFERENT):
        plain_quote(engine, random.randrange(2000, 6000, 5), random.randrange(1800, 4500, 5))
    prices_change(engine, url)
    with working(url):
        took = seconds_of(lambda: repriced(engine, "preview", "choose"))
    engine.dispose()
    rate = DIFFERENT / took
    print(f"\n{DIFFERENT} quotes of one room, no two alike: {rate:.0f} a second, two workers")
    assert rate >= DIFFERENT_PER_S
