"""The schema `jobs`: the queue's SQL comes with its package, and the schema's comment says up to which file.

The package ships its whole schema and one file for each change since, and keeps no record of what a database
has. So the newest file's name is written on the schema, and a later package brings it up to date from there.
"""

from __future__ import annotations

from pathlib import Path

from procrastinate.schema import SchemaManager
from sqlalchemy import Connection, text

USERS = "office_app, office_batch"


def create_job_schema(connection: Connection) -> None:
    """A new schema as the installed package wants it, with its users' rights."""
    connection.execute(text("CREATE SCHEMA jobs"))
    _run_in_jobs(connection, SchemaManager.get_schema())
    _finish(connection)


def update_job_schema(connection: Connection) -> None:
    """Run what the installed package has brought since; nothing where the schema is not there."""
    held = connection.scalar(text("SELECT obj_description(to_regnamespace('jobs'), 'pg_namespace')"))
    newer = [file for file in _change_files() if held is not None and file.name > held]
    for file in newer:
        _run_in_jobs(connection, file.read_text("utf-8"))
    if newer:
        _finish(connection)


def _run_in_jobs(connection: Connection, sql: str) -> None:
    """The package's SQL names its tables without a schema."""
    connection.execute(text("SET LOCAL search_path TO jobs"))
    connection.connection.cursor().execute(sql)
    connection.execute(text("SET LOCAL search_path TO DEFAULT"))


def _finish(connection: Connection) -> None:
    newest = _change_files()[-1].name.replace("'", "''")
    for statement in (
        f"GRANT USAGE ON SCHEMA jobs TO {USERS}",
        f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA jobs TO {USERS}",
        f"GRANT USAGE ON ALL SEQUENCES IN SCHEMA jobs TO {USERS}",
        f"COMMENT ON SCHEMA jobs IS '{newest}'",
    ):
        connection.execute(text(statement))


def _change_files() -> list[Path]:
    return sorted(Path(SchemaManager.get_migrations_path()).glob("*.sql"))
