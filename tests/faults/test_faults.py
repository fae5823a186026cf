"""The table of faults in DEVELOPERS.md, tried with real processes."""

from __future__ import annotations

import os
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import psycopg
import pytest
from alembic import command
from alembic.config import Config

from service.store import embedded, migrate, readiness
from service.store.engine import libpq_url
from tests.faults.house import BROKEN, SHUT, House, house
from tests.faults.load import ensure_nothing_lost, load

pytestmark = pytest.mark.full

OTHERS_OUT = """SELECT pg_terminate_backend(pid) FROM pg_stat_activity
    WHERE usename = current_user AND pid <> pg_backend_pid()"""


@pytest.fixture(scope="module")
def built() -> Iterator[House]:
    with house() as found:
        yield found


@pytest.fixture
def served(built: House) -> Iterator[House]:
    built.start_api()
    yield built
    for name in list(built.running):
        built.stop(name)


def test_a_database_that_is_killed_again_and_again(served: House) -> None:
    with load(served) as found:
        for _ in range(4):
            before = found.made()
            served.until(lambda before=before: found.made() > before + 5)
            served.kill_database()
            time.sleep(1)
            served.start_database()
            served.until_ready()
    assert set(found.statuses()) <= {BROKEN, 201, 503}
    ensure_nothing_lost(found)


def test_processes_of_the_server_that_are_killed(served: House) -> None:
    with load(served) as found:
        for _ in range(6):
            before = found.made()
            served.until(lambda before=before: found.made() > before + 3)
            for process in served.children("api")[:1]:
                process.kill()
            served.until_ready()
    assert set(found.statuses()) <= {BROKEN, SHUT, 201}
    ensure_nothing_lost(found)


def test_a_server_that_is_killed_whole_and_started_as_a_container_engine_does(served: House) -> None:
    with load(served) as found:
        for _ in range(2):
            before = found.made()
            served.until(lambda before=before: found.made() > before + 3)
            served.kill("api")
            served.start("api", "serve", "--port", str(served.port), "--workers", "2")
            served.until(lambda before=before: served.ready() and found.made() > before + 4)
    assert set(found.statuses()) <= {BROKEN, SHUT, 201}
    ensure_nothing_lost(found)


def test_a_worker_outlives_the_database_and_is_followed_when_killed(served: House) -> None:
    """A price list that is activated leaves a job, which is done whatever became of the worker."""
    served.start("worker", "worker")
    with psycopg.connect(libpq_url(served.database), autocommit=True) as connection:
        served.until(lambda: _workers(connection) > 0)
    pid = served.running["worker"].pid
    for _ in range(2):
        served.kill_database()
        time.sleep(1.5)
        served.start_database()
        with psycopg.connect(libpq_url(served.database), autocommit=True) as connection:
            connection.execute("TRUNCATE jobs.procrastinate_workers CASCADE")
            served.until(lambda c=connection: _workers(c) > 0)
            done = _jobs_done(connection)
            connection.execute("SET search_path TO jobs")
            connection.execute(
                "INSERT INTO jobs.procrastinate_jobs (queue_name, task_name, args) VALUES (%s, %s, %s)",
                ["default", "office:rescue_jobs", '{"timestamp": 0}'],
            )
            served.until(lambda c=connection, done=done: _jobs_done(c) > done)
    assert served.running["worker"].poll() is None
    assert served.running["worker"].pid == pid
    served.kill("worker")
    served.start("worker", "worker")
    with psycopg.connect(libpq_url(served.database), autocommit=True) as connection:
        connection.execute("TRUNCATE jobs.procrastinate_workers CASCADE")
        served.until(lambda: _workers(connection) > 0)
    assert served.stop("worker") == 0


def _workers(connection: psycopg.Connection) -> int:
    return (connection.execute("SELECT count(*) FROM jobs.procrastinate_workers").fetchone() or (0,))[0]


def _jobs_done(connection: psycopg.Connection) -> int:
    query = "SELECT count(*) FROM jobs.procrastinate_jobs WHERE status = 'succeeded'"
    return (connection.execute(query).fetchone() or (0,))[0]


@pytest.fixture
def small_disk(served: House) -> Iterator[Path]:
    """The database's tables on a disk of 100 MB of their own."""
    disk = served.folder / "disk"
    disk.mkdir()
    mounted = subprocess.run(["/usr/bin/mount", "-t", "tmpfs", "-o", "size=100m", "tmpfs", disk], check=False)
    if mounted.returncode:
        pytest.skip("no file system can be mounted here")
    with ExitStack() as stack:
        stack.callback(subprocess.run, ["/usr/bin/umount", "-l", disk], check=True)
        (disk / "tables").mkdir()
        embedded._give(disk / "tables")
        yield disk


def move(house: House, tablespace: str) -> None:
    """The database's tables to a tablespace, while nobody is connected."""
    admin = libpq_url(house.database).replace("/office?", "/postgres?")
    with psycopg.connect(admin, autocommit=True) as connection:
        connection.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'office'")
        connection.execute(f"ALTER DATABASE office SET TABLESPACE {tablespace}".encode())


def test_a_full_disk_refuses_what_it_cannot_keep(served: House, small_disk: Path) -> None:
    with psycopg.connect(libpq_url(served.database), autocommit=True) as connection:
        connection.execute(f"CREATE TABLESPACE small LOCATION '{small_disk}/tables'".encode())
    served.stop("api")
    move(served, "small")
    served.start_api()
    ballast = small_disk / "ballast"
    with load(served) as found:
        served.until(lambda: found.made() > 3)
        fill_up(ballast)
        served.until(lambda: found.statuses()[503] > 5)
        assert served.ready()
        ballast.unlink()
        before = found.made()
        served.until(lambda: found.made() > before + 3)
    assert set(found.statuses()) <= {201, 503}
    ensure_nothing_lost(found)
    served.stop("api")
    move(served, "pg_default")
    with psycopg.connect(libpq_url(served.database), autocommit=True) as connection:
        connection.execute("CHECKPOINT")
        connection.execute("DROP TABLESPACE small")


def fill_up(ballast: Path) -> None:
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(b"\0" * 65_536)
        except OSError:
            pass


def test_clients_that_are_slow_or_silent(served: House) -> None:
    with ExitStack() as stack:
        for number in range(90):
            client = stack.enter_context(socket.create_connection(("127.0.0.1", served.port)))
            if number % 3 == 0:
                client.sendall(b"POST /v1/quotes HTTP/1.1\r\nHost: x\r\nContent-Le")
            elif number % 3 == 1 and number < 45:
                client.sendall(b"POST /v1/quotes HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n\r\n{")
        with load(served) as found:
            served.until(lambda: found.made() > 10)
        assert served.ready()
    assert set(found.statuses()) == {201}
    ensure_nothing_lost(found)


def test_a_database_that_takes_no_more_connections(served: House) -> None:
    with psycopg.connect(libpq_url(served.database), autocommit=True) as admin:
        limit = int((admin.execute("SHOW max_connections").fetchone() or ("100",))[0])
        admin.execute(OTHERS_OUT)
        held = []
        try:
            while len(held) < limit:
                held.append(psycopg.connect(libpq_url(served.database)))
        except psycopg.OperationalError:
            pass
        with load(served) as found:
            served.until(lambda: found.statuses()[503] > 3)
            for one in held:
                one.close()
            served.until(lambda: served.ready() and found.made() > 3)
    assert set(found.statuses()) <= {201, 503}
    assert all(answer.headers["Retry-After"] for answer in found.told.values() if answer.status == 503)
    ensure_nothing_lost(found)


def test_a_pool_whose_connections_are_all_at_work(served: House) -> None:
    """Many threads share few connections, all of which wait for a lock."""
    served.stop("api")
    served.start_api(POOL_SIZE="1", THREADS="20", POOL_TIMEOUT_S="1")
    with psycopg.connect(libpq_url(served.database)) as blocking:
        blocking.execute("LOCK TABLE quotes")
        with load(served, callers=40) as found:
            served.until(lambda: found.statuses()[503] > 3)
            blocking.rollback()
            served.until(lambda: served.ready() and found.made() > 3)
    assert set(found.statuses()) <= {201, 503}
    ensure_nothing_lost(found)


REVISION = """
from alembic import op
revision = "later"
down_revision = "{head}"
branch_labels = None
depends_on = None

def upgrade():
    op.execute("ALTER TABLE quotes ADD COLUMN later text")
    with op.get_context().autocommit_block():
        op.execute("CREATE INDEX CONCURRENTLY quotes_later_idx ON quotes (org_id, later)")

def downgrade():
    op.execute("ALTER TABLE quotes DROP COLUMN later")
"""


def test_a_migration_while_serving(served: House) -> None:
    """A later release's: a reader is in its way for longer than it waits for the lock."""
    folder = served.folder / "later"
    folder.mkdir()
    (folder / "later.py").write_text(REVISION.format(head=migrate_head()))

    def with_later(act: str, revision: str) -> None:
        def run(config: Config) -> None:
            places = os.pathsep.join([str(migrate.ROOT / "migrations" / "versions"), str(folder)])
            config.set_main_option("path_separator", "os")
            config.set_main_option("version_locations", places)
            getattr(command, act)(config, revision)

        migrate._alembic(served.database, run)

    with load(served) as found, psycopg.connect(libpq_url(served.database)) as reader:
        served.until(lambda: found.made() > 3)
        reader.execute("SELECT count(*) FROM quotes")
        began = time.monotonic()
        threading.Timer(6, reader.rollback).start()  # the reader of a long report, say
        with_later("upgrade", "later")
        assert time.monotonic() - began > 5
        longest = max(after - before for before, after in zip(found.ended, found.ended[1:], strict=False))
        assert longest < migrate.LOCK_TIMEOUT_S + 3
        before = found.made()
        served.until(lambda: served.ready() and found.made() > before + 5)
    assert set(found.statuses()) == {201}
    ensure_nothing_lost(found)
    with_later("downgrade", migrate_head())


def migrate_head() -> str:
    (head,) = readiness._heads()
    return head
