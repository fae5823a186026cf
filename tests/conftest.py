"""One PostgreSQL for the whole run, one database for each test process, nothing left behind by a test.

Without DATABASE_URL the embedded server is started by the first test that needs it; with it, that server is
used.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import UUID

import hypothesis
import psycopg
import pytest
from sqlalchemy import Connection, Engine

from service.demo.seed import seed
from service.settings import load_settings
from service.store import embedded
from service.store.engine import libpq_url, make_engine, sqlalchemy_url
from service.store.ids import new_id
from service.store.migrate import upgrade
from service.store.models import Organisation
from service.store.session import OfficeSession, open_session
from tests import kept_rows

# No deadline, since two test processes share two cores; in CI the same examples each time.
hypothesis.settings.register_profile("office", deadline=None, derandomize=bool(os.environ.get("CI")))
hypothesis.settings.load_profile("office")

PEPPER = "a pepper for tests only, of no use elsewhere"
DEMO_KEY = "demo-key-for-tests"
RUN_FOLDER = pytest.StashKey[Path]()


def pytest_configure(config: pytest.Config) -> None:
    """The process that leads the run makes a folder that all share; workers get its name."""
    given = getattr(config, "workerinput", {}).get("run_folder")
    config.stash[RUN_FOLDER] = Path(given or tempfile.mkdtemp(prefix="office-"))


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node: Any) -> None:
    node.workerinput["run_folder"] = str(node.config.stash[RUN_FOLDER])


def pytest_unconfigure(config: pytest.Config) -> None:
    """The leading process takes down what the run has put up."""
    if hasattr(config, "workerinput"):
        return
    folder = config.stash[RUN_FOLDER]
    if (folder / "postgres").exists():
        embedded.stop(folder / "postgres")
    elif (folder / "databases").exists():
        with psycopg.connect(libpq_url(os.environ["DATABASE_URL"]), autocommit=True) as connection:
            for name in (folder / "databases").read_text().split():
                connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
    shutil.rmtree(folder)


@contextmanager
def _one_at_a_time(folder: Path) -> Iterator[None]:
    with (folder / "lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


@pytest.fixture(scope="session")
def make_database(pytestconfig: pytest.Config) -> Callable[[str, str | None], str]:
    """Make a database by name from a template (None: from the migrated one) and give its address."""
    folder = pytestconfig.stash[RUN_FOLDER]
    with _one_at_a_time(folder):
        server = os.environ.get("DATABASE_URL") or embedded.start(
            folder / "postgres", embedded.FAST_AND_FORGETFUL
        )
        template = f"{folder.name.replace('-', '_')}_template".lower()
        if not (folder / "migrated").exists():
            upgrade(_create(server, folder, template, "template0"))
            (folder / "migrated").touch()

    def make(name: str, source: str | None = None) -> str:
        with _one_at_a_time(folder):
            return _create(server, folder, template.replace("template", name), source or template)

    return make


def _create(server: str, folder: Path, name: str, source: str) -> str:
    with psycopg.connect(libpq_url(server), autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE {source}")
    with (folder / "databases").open("a") as file:
        file.write(f"{name}\n")
    return sqlalchemy_url(server).set(database=name).render_as_string(hide_password=False)


@pytest.fixture(scope="session")
def database_url(make_database: Callable[..., str]) -> str:
    """This test process's migrated database, by the address of a login that may do everything."""
    return make_database(os.environ.get("PYTEST_XDIST_WORKER", "main"))


@pytest.fixture(scope="session")
def engine(database_url: str) -> Iterator[Engine]:
    """The engine that the service works with (role office_app)."""
    engine = make_engine(database_url)
    yield engine
    engine.dispose()


@pytest.fixture
def connection(engine: Engine) -> Iterator[Connection]:
    """A connection in a transaction that is rolled back after the test, whatever sessions on it commit."""
    with engine.connect() as connection, connection.begin() as outer:
        yield connection
        outer.rollback()


@pytest.fixture
def open_org(connection: Connection) -> Iterator[Callable[[], OfficeSession]]:
    """Opens a session of a fresh organisation; what it commits goes with the test.

    The sessions share one connection: commit one before turning to another.
    """
    opened: list[OfficeSession] = []

    def open_one() -> OfficeSession:
        session = open_session(connection, new_id(), join_transaction_mode="create_savepoint")
        opened.append(session)
        session.add(make_org(UUID(session.info["app.org"])))
        session.commit()
        return session

    yield open_one
    for session in opened:
        session.close()


@pytest.fixture
def session(open_org: Callable[[], OfficeSession]) -> OfficeSession:
    """A session bound to a fresh organisation."""
    return open_org()


@pytest.fixture
def org(session: OfficeSession) -> Organisation:
    """The organisation that `session` is bound to."""
    found = session.get(Organisation, UUID(session.info["app.org"]))
    assert found is not None
    return found


@pytest.fixture
def live_engine(engine: Engine, database_url: str) -> Iterator[Engine]:
    """For tests that commit for real (processes, HTTP, jobs): every table is emptied afterwards."""
    yield engine
    kept_rows.empty(database_url)


@pytest.fixture
def org_id(live_engine: Engine) -> UUID:
    """A fresh organisation that is there for all connections."""
    with open_session(live_engine, new_id()) as session, session.begin():
        found = UUID(session.info["app.org"])
        session.add(make_org(found))
        return found


@pytest.fixture
def batch(database_url: str, live_engine: Engine) -> Iterator[Engine]:
    """The engine that the queue's worker works with."""
    engine = make_engine(database_url, "office_batch", pool_size=2)
    yield engine
    engine.dispose()


@pytest.fixture(scope="session")
def seeded_rows(make_database: Callable[..., str]) -> kept_rows.Rows:
    """All rows of a database in which the invented office was seeded."""
    url = make_database(f"{os.environ.get('PYTEST_XDIST_WORKER', 'main')}_seeded")
    seed(load_settings({"DATABASE_URL": url, "KEY_PEPPER": PEPPER}), DEMO_KEY)
    return kept_rows.take(url)


@pytest.fixture
def invented_office(seeded_rows: kept_rows.Rows, live_engine: Engine, database_url: str) -> str:
    """The invented organisation with its suppliers, prices, rates and terms; the key that opens it."""
    kept_rows.put(database_url, seeded_rows)
    return DEMO_KEY


def make_org(org_id: UUID) -> Organisation:
    return Organisation(org_id=org_id, name="Invented Floors", currency="USD", standards="us")
