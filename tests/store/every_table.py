"""A database in which every table holds rows, and what its tables hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import psycopg

from service.store.engine import libpq_url, make_engine
from service.store.ids import new_id
from service.store.session import open_session
from tests.factories import ALL, OrganisationFactory, QuoteRevisionFactory

Columns = Mapping[str, Sequence[str]]
Rows = Mapping[str, Sequence[str]]

COLUMNS = """
SELECT table_name, array_agg(column_name::text ORDER BY column_name) FROM information_schema.columns
WHERE table_schema = 'public' AND table_name <> 'alembic_version' GROUP BY 1
"""
KEYS = """
SELECT conrelid::regclass::text, array_agg(attname::text ORDER BY attnum)
FROM pg_constraint JOIN pg_attribute ON attrelid = conrelid AND attnum = ANY (conkey)
WHERE contype = 'p' AND connamespace = 'public'::regnamespace GROUP BY 1
"""


def fill(database_url: str) -> None:
    """An organisation that has one of everything; an offer that was issued makes what triggers write."""
    engine = make_engine(database_url)
    org_id = new_id()
    with open_session(engine, org_id) as session, session.begin():
        OrganisationFactory(session=session, org_id=org_id)
        for factory in ALL:
            if factory is not OrganisationFactory:
                factory(session=session)
        QuoteRevisionFactory(session=session, state="issued")
    engine.dispose()


def columns(database_url: str) -> Columns:
    """All tables but alembic's with their columns."""
    return _by_table(database_url, COLUMNS)


def key_columns(database_url: str) -> Columns:
    """All tables but alembic's with the columns of their primary keys."""
    found = dict(_by_table(database_url, KEYS))
    found.pop("alembic_version", None)
    return found


def rows(database_url: str, taken: Columns) -> Rows:
    """Those columns of all rows as text, in their order as text."""
    with psycopg.connect(libpq_url(database_url)) as connection:
        return {table: _rows(connection, table, names) for table, names in taken.items()}


def _rows(connection: psycopg.Connection, table: str, names: Sequence[str]) -> Sequence[str]:
    query = f"SELECT ROW({', '.join(names)})::text FROM {table} ORDER BY 1"  # noqa: S608
    return [row for (row,) in connection.execute(query.encode()).fetchall()]


def _by_table(database_url: str, query: str) -> Columns:
    with psycopg.connect(libpq_url(database_url)) as connection:
        return dict(connection.execute(query.encode()).fetchall())
