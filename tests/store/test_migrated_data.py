"""Rows go down and up with the schema: no revision loses any of a table that is there before and after it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory

from service.store.migrate import ROOT, downgrade, upgrade
from tests.store.every_table import columns, fill, key_columns, rows

LOWEST = "0002"
SCRIPTS = ScriptDirectory.from_config(Config(toml_file=ROOT / "pyproject.toml"))
REVISIONS = [script.revision for script in SCRIPTS.walk_revisions()]  # the newest first
BELOW = REVISIONS[1 : REVISIONS.index(LOWEST) + 1]


def down_and_up(url: str, revision: str) -> None:
    """To `revision` and back to the newest one, asking at both whether all rows are there."""
    keys = key_columns(url)
    held = rows(url, keys)
    assert [table for table, found in held.items() if not found] == []
    downgrade(url, revision)
    there = columns(url)
    kept = {table: keys[table] for table in there}
    assert rows(url, kept) == {table: held[table] for table in kept}
    before = rows(url, there)
    upgrade(url)
    assert rows(url, kept) == {table: held[table] for table in kept}
    now = columns(url)
    same = {table: names for table, names in there.items() if set(names) <= set(now[table])}
    assert rows(url, same) == {table: before[table] for table in same}
    assert len(same) > len(there) / 2


def test_every_row_goes_down_and_up_with_the_schema(make_database: Callable[..., str]) -> None:
    url = make_database("data_down_and_up")
    upgrade(url)  # a copied database lacks the rights that its original gave
    fill(url)
    down_and_up(url, LOWEST)
    fill(url)


@pytest.mark.full
@pytest.mark.parametrize("revision", BELOW)
def test_from_each_revision_every_row_comes_up_again(
    revision: str, make_database: Callable[..., str]
) -> None:
    url = make_database(f"data_from_{revision}")
    upgrade(url)
    fill(url)
    down_and_up(url, revision)
