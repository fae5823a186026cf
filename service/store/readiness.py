"""Whether this database can serve this release."""

from __future__ import annotations

from functools import cache

from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from service.store.migrate import ROOT


def faults(engine: Engine) -> list[str]:
    """What stands in the way of serving requests: no database, or migrations of another release."""
    try:
        with engine.connect() as connection:
            at = set(MigrationContext.configure(connection).get_current_heads())
    except SQLAlchemyError:
        return ["the database does not answer"]
    return [] if at == _heads() else ["the database's migrations are not those of this release"]


@cache
def _heads() -> frozenset[str]:
    return frozenset(ScriptDirectory.from_config(Config(toml_file=ROOT / "pyproject.toml")).get_heads())
