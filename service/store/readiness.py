"""Whether this database can serve this release.

A revision that this release does not know is a later one's: revisions let the release before go on, so that
it serves while the later one is rolled out.
"""

from __future__ import annotations

from collections.abc import Set
from functools import cache

from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.exc import TimeoutError as NoConnectionFree

from service.store.migrate import ROOT


def faults(engine: Engine) -> list[str]:
    """What stands in the way of serving requests: no database, or migrations that are still to be run."""
    try:
        with engine.connect() as connection:
            at = set(MigrationContext.configure(connection).get_current_heads())
    except NoConnectionFree:
        return ["all database connections are at work"]
    except SQLAlchemyError:
        return ["the database does not answer"]
    return [] if serves(at) else ["the database lacks migrations of this release"]


def serves(at: Set[str]) -> bool:
    """Whether a database at these revisions has all that this release needs."""
    return at == _heads() or bool(at - _known())


@cache
def _heads() -> frozenset[str]:
    return frozenset(_scripts().get_heads())


@cache
def _known() -> frozenset[str]:
    return frozenset(script.revision for script in _scripts().walk_revisions())


def _scripts() -> ScriptDirectory:
    return ScriptDirectory.from_config(Config(toml_file=ROOT / "pyproject.toml"))
