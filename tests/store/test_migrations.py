from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from procrastinate.schema import SchemaManager
from sqlalchemy import Connection, text

from service.store.engine import make_engine, sqlalchemy_url
from service.store.job_schema import update_job_schema
from service.store.migrate import MigrationError, downgrade, upgrade
from service.store.models import Base

LEFT = """
SELECT 'relation', relname FROM pg_class WHERE relnamespace = to_regnamespace('public')
UNION ALL SELECT 'function', proname FROM pg_proc WHERE pronamespace = to_regnamespace('public')
UNION ALL SELECT 'type', typname FROM pg_type WHERE typnamespace = to_regnamespace('public')
UNION ALL SELECT 'schema', nspname FROM pg_namespace WHERE nspname !~ '^pg_'
"""
SHAPE = """
SELECT table_schema, table_name, column_name, data_type, column_default, is_nullable
FROM information_schema.columns WHERE table_schema IN ('public', 'jobs') ORDER BY 1, 2, 3
"""


@contextmanager
def owner_connection(url: str) -> Iterator[Connection]:
    owner = make_engine(url, "office_owner")
    try:
        with owner.begin() as connection:
            yield connection
    finally:
        owner.dispose()


def shape(connection: Connection) -> list[tuple[str, ...]]:
    return [tuple(row) for row in connection.execute(text(SHAPE))]


def test_models_and_migrations_agree(database_url: str) -> None:
    with owner_connection(database_url) as connection:
        context = MigrationContext.configure(connection, opts={"compare_server_default": True})
        assert compare_metadata(context, Base.metadata) == []


def test_from_empty_to_head_and_back_and_up_again(make_database: Callable[..., str]) -> None:
    url = make_database("up_and_down", "template0")
    upgrade(url)
    with owner_connection(url) as connection:
        first = shape(connection)
    downgrade(url)
    with owner_connection(url) as connection:
        left = {tuple(row) for row in connection.execute(text(LEFT))}
    upgrade(url)
    upgrade(url)
    with owner_connection(url) as connection:
        second = shape(connection)
    version = {("relation", "alembic_version"), ("relation", "alembic_version_pkc")}
    types = {("type", "alembic_version"), ("type", "_alembic_version")}
    assert left == version | types | {("schema", "public"), ("schema", "information_schema")}
    assert first == second
    assert len(first) > 100


def test_job_tables_are_the_installed_packages(make_database: Callable[..., str]) -> None:
    """Built by our migration and by the package's own SQL alone: the same columns."""
    url = make_database("plain_jobs")
    upgrade(url)  # a copied database lacks the rights that its original gave
    with owner_connection(url) as connection:
        connection.execute(text("SET LOCAL search_path TO jobs"))
        ours = shape(connection)
        connection.execute(text("DROP SCHEMA jobs CASCADE"))
        connection.execute(text("CREATE SCHEMA jobs"))
        connection.connection.cursor().execute(SchemaManager.get_schema())
        assert shape(connection) == ours
    assert any(row[0] == "jobs" for row in ours)


def test_a_later_packages_changes_are_run(
    make_database: Callable[..., str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "99.00.00_01_pre_more.sql").write_text("CREATE TABLE more (id int)")
    monkeypatch.setattr(SchemaManager, "get_migrations_path", staticmethod(lambda: str(tmp_path)))
    with owner_connection(make_database("later_jobs")) as connection:
        update_job_schema(connection)
        update_job_schema(connection)
        assert connection.scalar(text("SELECT to_regclass('jobs.more') IS NOT NULL"))
        allowed = "SELECT has_table_privilege('office_batch', 'jobs.more', 'INSERT')"
        assert connection.scalar(text(allowed))


def test_a_login_without_rights_is_told_what_to_run(database_url: str) -> None:
    weak = sqlalchemy_url(database_url).update_query_dict({"options": "-c role=office_app"})
    with pytest.raises(MigrationError, match="CREATE ROLE office_owner"):
        upgrade(weak.render_as_string(hide_password=False))
