"""From an empty database to the current schema: roles first, then the migrations under the owner's role."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import psycopg
import structlog
from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, create_engine, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from service.settings import Settings
from service.store.engine import make_engine, sqlalchemy_url
from service.store.job_schema import update_job_schema

log = structlog.get_logger()
ROOT = Path(__file__).parents[2]
OLDEST_SERVER = 16
ROLES = ("office_owner", "office_app", "office_batch")
LOCK_TIMEOUT_S = 3
"""How long a migration waits for a lock. Whoever comes after it waits behind it, so it soon tries anew."""
ATTEMPTS, PAUSE_S = 20, 2.0
LOCK = 7_165_201  # any number: one migration at a time in a database

READY = """
SELECT count(*) = 4 AND bool_and(rolname = 'office_backup' OR
    pg_has_role(oid, 'SET') AND (rolname <> 'office_owner' OR (
        has_schema_privilege(oid, 'public', 'CREATE')
        AND has_database_privilege(oid, current_database(), 'CREATE')
    ))
) FROM pg_roles WHERE rolname IN ('office_owner', 'office_app', 'office_batch', 'office_backup')
"""

ROLE = """
DO $$ BEGIN
    CREATE ROLE {role} NOLOGIN NOSUPERUSER NOBYPASSRLS;
EXCEPTION WHEN duplicate_object OR unique_violation THEN NULL;
END $$;
GRANT {role} TO CURRENT_USER;
"""

RIGHTS = """
GRANT CREATE, USAGE ON SCHEMA public TO office_owner;
DO $$ BEGIN EXECUTE format('GRANT CREATE ON DATABASE %I TO office_owner', current_database()); END $$;
"""

BACKUP = """
DO $$ BEGIN
    BEGIN
        CREATE ROLE office_backup NOLOGIN NOSUPERUSER BYPASSRLS;
    EXCEPTION WHEN insufficient_privilege THEN
        CREATE ROLE office_backup NOLOGIN NOSUPERUSER;
        RAISE WARNING 'an administrator must run: ALTER ROLE office_backup BYPASSRLS';
    END;
EXCEPTION WHEN duplicate_object OR unique_violation THEN NULL;
END $$;
"""
"""The role of backups. Where it cannot be let past row-level security, pg_dump under it fails: it never
leaves rows out without a word."""

BOOTSTRAP = "".join(ROLE.format(role=role) for role in ROLES) + BACKUP + RIGHTS


class MigrationError(RuntimeError):
    """The database cannot be brought to the current schema; the message says what to do."""


def migrate(settings: Settings) -> None:
    """Bring the database of the settings to the current schema, by the owner's login where one is set."""
    url = settings.database_owner_url or settings.database_url
    if url is None:
        raise MigrationError("no DATABASE_URL is set and no embedded PostgreSQL was started")
    upgrade(url)


def upgrade(url: str, revision: str = "head") -> None:
    """Bring the database of this login up to `revision`, making roles where they are missing."""
    _bootstrap(url)
    _alembic(url, lambda config: command.upgrade(config, revision))


def downgrade(url: str, revision: str = "base") -> None:
    """Take the database back to `revision`; everything that later revisions made is lost."""
    _alembic(url, lambda config: command.downgrade(config, revision))


def _bootstrap(url: str) -> None:
    engine = create_engine(sqlalchemy_url(url), poolclass=NullPool)
    with engine.begin() as connection:
        version = int(connection.scalar(text("SHOW server_version_num"))) // 10_000
        if version < OLDEST_SERVER:
            raise MigrationError(f"PostgreSQL {OLDEST_SERVER} or later is needed, this server is {version}")
        if not connection.scalar(text(READY)):
            _make_roles(connection)


def _make_roles(connection: Connection) -> None:
    try:
        connection.connection.cursor().execute(BOOTSTRAP)
    except psycopg.Error as fault:
        raise MigrationError(
            f"this login may not make the roles ({fault}); have an administrator run in this database, "
            f"with the login's name for CURRENT_USER:\n{BOOTSTRAP}"
        ) from fault


def _alembic(url: str, act: Callable[[Config], None]) -> None:
    engine = make_engine(url, "office_owner")
    try:
        with engine.connect() as connection:
            connection.execute(text("SELECT pg_advisory_lock(:lock)"), {"lock": LOCK})
            connection.execute(text(f"SET lock_timeout = '{LOCK_TIMEOUT_S}s'"))
            connection.commit()
            _patiently(connection, act)
    finally:
        engine.dispose()


def _patiently(connection: Connection, act: Callable[[Config], None]) -> None:
    """Each revision is a transaction of its own: one that got no lock is begun anew, those before it stay."""
    for attempt in range(1, ATTEMPTS + 1):
        try:
            _run(connection, act)
            return
        except DBAPIError as fault:
            if not isinstance(fault.orig, psycopg.errors.LockNotAvailable) or attempt == ATTEMPTS:
                raise
            connection.rollback()
            log.warning("migration-waits", attempt=attempt)
            time.sleep(PAUSE_S)


def _run(connection: Connection, act: Callable[[Config], None]) -> None:
    config = Config(toml_file=ROOT / "pyproject.toml")
    config.attributes["connection"] = connection
    act(config)
    update_job_schema(connection)
    connection.commit()
