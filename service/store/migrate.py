"""From an empty database to the current schema: roles first, then the migrations under the owner's role."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import psycopg
from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, create_engine, text
from sqlalchemy.pool import NullPool

from service.settings import Settings
from service.store.engine import make_engine, sqlalchemy_url
from service.store.job_schema import update_job_schema

ROOT = Path(__file__).parents[2]
OLDEST_SERVER = 16
ROLES = ("office_owner", "office_app", "office_batch")
LOCK = 7_165_201  # any number: one migration at a time in a database

READY = """
SELECT count(*) = 3 AND bool_and(
    pg_has_role(oid, 'SET') AND (rolname <> 'office_owner' OR (
        has_schema_privilege(oid, 'public', 'CREATE')
        AND has_database_privilege(oid, current_database(), 'CREATE')
    ))
) FROM pg_roles WHERE rolname IN ('office_owner', 'office_app', 'office_batch')
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

BOOTSTRAP = "".join(ROLE.format(role=role) for role in ROLES) + RIGHTS


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
            connection.commit()
            config = Config(toml_file=ROOT / "pyproject.toml")
            config.attributes["connection"] = connection
            act(config)
            update_job_schema(connection)
            connection.commit()
    finally:
        engine.dispose()
