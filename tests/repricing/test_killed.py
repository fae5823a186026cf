"""Workers are killed and connections cut in the middle of a run: nothing is lost, doubled or different."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import psycopg
import pytest

from service.demo.seed import ORGANISATION, seed
from service.quoting.quotes import Actor
from service.quoting.repricing import steer
from service.settings import load_settings
from service.store.engine import libpq_url, make_engine
from service.store.session import transaction
from tests.jobs.rescuing import rescue
from tests.repricing import office
from tests.repricing.many import multiply

ROOT = Path(__file__).parents[2]
FIGURES = (
    "SELECT quote_id, revision, materials, delivery, labour, contingency, markup, discount, minimum_charge,"
    " rounding, net, tax, gross, deposit, retention, rest, price_date, valid_until, takeoff_id, conditions_id"
    " FROM quote_revisions ORDER BY 1, 2",
    "SELECT quote_id, revision, position, kind, role, uplift_group, description, supplier_id, product_id,"
    " price_list_id, packs, quantity, cost, price, amount, needs FROM quote_lines ORDER BY 1, 2, 3",
    "SELECT quote_id, position, revision, kind, note FROM quote_events ORDER BY 1, 2",
    "SELECT id, state, current_revision, offered_revision, version FROM quotes ORDER BY 1",
    "SELECT quote_id, outcome, revision, new_revision, old_gross, new_cost, new_net, new_gross, causes"
    " FROM repricing_changes ORDER BY 1",
    "SELECT state, selected, visited, changed, revised, conflicts, unpriceable, parts_done, parts"
    " FROM repricings",
)
MOST_S = 240


def prepared(make_database: Callable[..., str], name: str, times: int) -> str:
    """A database with many quotes, and prices newer than they are; its name."""
    url = make_database(name)
    seed(load_settings({"DATABASE_URL": url}), "a key")
    engine = make_engine(url)
    office.quotes(engine, [slice(1, 2), slice(2, 3)])
    office.quotes(engine, [slice(1, 2)], issued=True, now=datetime.now(UTC))  # lest the worker expire it
    multiply(url, times)
    office.dearer(engine, "6.5")
    engine.dispose()
    return url.rpartition("/")[2].partition("?")[0]


def figures(url: str) -> list[list[tuple[object, ...]]]:
    with psycopg.connect(libpq_url(url)) as connection:
        return [connection.execute(query).fetchall() for query in FIGURES]


def start(url: str) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "DATABASE_URL": url}
    return subprocess.Popen(
        [sys.executable, "-m", "service", "worker"], cwd=ROOT, env=environment, stderr=subprocess.DEVNULL
    )


def calm(url: str, part_size: int) -> None:
    """A run that nobody disturbs, done here."""
    engine = make_engine(url, "office_batch")
    office.run(engine, now=datetime.now(UTC), price_date=office.NOW.date(), part_size=part_size)
    engine.dispose()


def disturbed(url: str, part_size: int, random: Random, times: int) -> int:
    """Let two workers do a run, disturbed up to so many times, each after some part was done."""
    engine = make_engine(url)
    with transaction(engine, ORGANISATION) as session:
        said = steer.Order("revise", price_date=office.NOW.date(), part_size=part_size)
        run_id = steer.order(session, said, Actor(office.NOW)).id
    workers, done, count, began = [start(url) for _ in range(2)], 0, 0, time.monotonic()
    try:
        while True:
            with transaction(engine, ORGANISATION) as session:
                run = office.found(session, run_id)
            if run.state in ("done", "failed"):
                assert run.state == "done", run.failure
                return count
            assert time.monotonic() - began < MOST_S, (run.state, run.parts_done, run.parts)
            if run.parts_done <= done or count == times:
                time.sleep(0.3)
                rescue(url, 2)
                continue
            time.sleep(random.uniform(0, 0.3))
            disturb(url, workers, random)
            done, count = run.parts_done, count + 1
    finally:
        for worker in workers:
            worker.kill()
            worker.wait()
        engine.dispose()


def disturb(url: str, workers: list[subprocess.Popen[bytes]], random: Random) -> None:
    """Kill a worker and start another, or cut a connection; who ends by that is started again."""
    if random.random() < 0.5:
        victim = random.randrange(len(workers))
        workers[victim].kill()
        workers[victim].wait()
    else:
        cut(url, random)
    workers[:] = [worker if worker.poll() is None else start(url) for worker in workers]


def cut(url: str, random: Random) -> None:
    """Cut one of the workers' connections, as a network does."""
    query = (
        "SELECT pid FROM pg_stat_activity"
        " WHERE datname = current_database() AND pid <> pg_backend_pid() ORDER BY 1"
    )
    with psycopg.connect(libpq_url(url), autocommit=True) as connection:
        pids = [row[0] for row in connection.execute(query)]
        if pids:
            connection.execute("SELECT pg_terminate_backend(%s)", [random.choice(pids)])


def prove(make_database: Callable[..., str], times: int, rounds: int, part_size: int, most: int) -> None:
    source = prepared(make_database, f"repriced_{times}", times)
    undisturbed = make_database(f"calm_{times}", source)
    calm(undisturbed, part_size)
    wanted = figures(undisturbed)
    revised = wanted[-1][0][4]
    assert isinstance(revised, int)
    assert revised >= 3 * times
    count = 0
    for number in range(rounds):
        url = make_database(f"round_{times}_{number}", source)
        count += disturbed(url, part_size, Random(number), most)
        assert figures(url) == wanted
    print(f"{rounds} rounds, disturbed {count} times")  # noqa: T201
    assert count >= rounds


def test_a_disturbed_run_ends_like_an_undisturbed_one(make_database: Callable[..., str]) -> None:
    prove(make_database, times=10, rounds=1, part_size=6, most=2)


@pytest.mark.full
def test_two_thousand_quotes_twenty_rounds(make_database: Callable[..., str]) -> None:
    prove(make_database, times=666, rounds=20, part_size=40, most=8)
