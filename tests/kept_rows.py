"""What all tables hold, taken and put back: the use cases that write it take longer than most tests."""

from __future__ import annotations

from collections.abc import Mapping

import psycopg

from service.store.engine import libpq_url
from service.store.models import Base

QUEUE = (
    "procrastinate_jobs",
    "procrastinate_events",
    "procrastinate_workers",
    "procrastinate_periodic_defers",
)
TABLES = (*(f"public.{name}" for name in Base.metadata.tables), *(f"jobs.{name}" for name in QUEUE))

Rows = Mapping[str, bytes]


def take(database_url: str) -> Rows:
    """All rows by table, those without any left out."""
    with psycopg.connect(libpq_url(database_url)) as connection:
        found = {table: _copied(connection, table) for table in TABLES}
    return {table: rows for table, rows in found.items() if rows}


def put(database_url: str, kept: Rows) -> None:
    with _unguarded(database_url) as connection:
        for table, rows in kept.items():
            with connection.cursor().copy(f"COPY {table} FROM STDIN") as copy:
                copy.write(rows)
            if table.startswith("jobs."):  # numbered by the database: the next one is behind these
                last = f"(SELECT max(id) FROM {table})"  # noqa: S608 - our own names
                connection.execute(f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), {last})")


def empty(database_url: str) -> None:
    """Delete all rows: of tables that hold little it takes a tenth of what TRUNCATE does."""
    with _unguarded(database_url) as connection:
        connection.execute("; ".join(f"DELETE FROM {table}" for table in TABLES).encode())  # noqa: S608 - our own names


def _copied(connection: psycopg.Connection, table: str) -> bytes:
    with connection.cursor().copy(f"COPY {table} TO STDOUT") as copy:
        return b"".join(map(bytes, copy))


def _unguarded(database_url: str) -> psycopg.Connection:
    """Without triggers, which refuse most of this."""
    connection = psycopg.connect(libpq_url(database_url))
    connection.execute("SET session_replication_role = replica")
    return connection
