"""Migrations hold no lock for long: what a linter for PostgreSQL says of each revision's statements, and what
happens where another transaction is in the way.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import threading
from collections import defaultdict
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import psycopg
import pytest
from alembic.config import Config
from sqlalchemy import Engine, event, text
from sqlalchemy.exc import OperationalError

from service.store import migrate
from service.store.engine import libpq_url

RULES = {
    "adding-field-with-default",
    "adding-foreign-key-constraint",
    "adding-not-nullable-field",
    "adding-required-field",
    "adding-serial-primary-key-field",
    "ban-concurrent-index-creation-in-transaction",
    "changing-column-type",
    "constraint-missing-not-valid",
    "disallowed-unique-constraint",
    "require-concurrent-index-creation",
    "require-concurrent-index-deletion",
    "syntax-error",
}
"""Those of squawk that tell of long locks; `migrate` sets the limit of waiting for one."""

UNRELEASED = {"0003", "0004", "0005", "0007", "0008", "0013", "0014", "0018"}
"""Revisions written before the first release: no office's tables were large when they ran."""

BAD = {
    "CREATE INDEX ON quotes (number)": "require-concurrent-index-creation",
    "ALTER TABLE quotes ALTER COLUMN number TYPE varchar(20)": "changing-column-type",
    "ALTER TABLE quotes ADD CHECK (number <> '')": "constraint-missing-not-valid",
    "ALTER TABLE quotes ADD COLUMN seen timestamptz DEFAULT clock_timestamp()": "adding-field-with-default",
    "ALTER TABLE quotes ALTER COLUMN number SET NOT NULL": "adding-not-nullable-field",
    "ALTER TABLE quotes ADD FOREIGN KEY (parent) REFERENCES quotes": "adding-foreign-key-constraint",
    "ALTER TABLE quotes ADD UNIQUE (number)": "disallowed-unique-constraint",
}
GOOD = """
CREATE TABLE fresh (id uuid PRIMARY KEY, quote uuid REFERENCES quotes, number text CHECK (number <> ''));
CREATE INDEX ON fresh (number);
ALTER TABLE quotes ADD COLUMN seen timestamptz, ADD COLUMN note text NOT NULL DEFAULT '';
ALTER TABLE quotes ADD CONSTRAINT quotes_seen CHECK (seen > 'epoch') NOT VALID;
"""


def lint(*files: Path) -> Mapping[str, set[str]]:
    """Which of the rules each file breaks."""
    squawk = Path(sys.executable).with_name("squawk")
    command = [squawk, "--reporter", "json", "--pg-version", "16.0", "--assume-in-transaction", *files]
    found: Mapping[str, set[str]] = defaultdict(set)
    for told in json.loads(subprocess.run(command, capture_output=True, check=False).stdout):
        if told["rule_name"] in RULES:
            found[Path(told["file"]).stem].add(told["rule_name"])
    return found


def statements_of_revisions(url: str) -> Mapping[str, str]:
    """What each revision says to the database on the way from empty to the newest one."""
    told: dict[str, str] = {}
    since: list[str] = []

    def heard(_: Any, __: Any, statement: str, *___: Any) -> None:
        done = re.search(r"alembic_version (?:SET version_num=|\(version_num\) VALUES \()'(\w+)'", statement)
        if done:
            told[done[1]] = ";\n".join(since) + ";\n"
            since.clear()
        elif not statement.lstrip().startswith(("SELECT", "SHOW")):
            since.append(statement.rstrip().rstrip(";"))

    event.listen(Engine, "before_cursor_execute", heard)
    try:
        migrate.upgrade(url)
    finally:
        event.remove(Engine, "before_cursor_execute", heard)
    return told


def test_no_revision_holds_a_lock_for_long(make_database: Callable[..., str], tmp_path: Path) -> None:
    told = statements_of_revisions(make_database("locks", "template0"))
    assert len(told) > 20
    files = [tmp_path / f"{revision}.sql" for revision in told]
    for file in files:
        file.write_text(told[file.stem])
    found = lint(*files)
    assert {revision: rules for revision, rules in found.items() if revision not in UNRELEASED} == {}
    assert set(found) == UNRELEASED, "an exception that is not needed"


def test_the_linter_knows_bad_from_good(tmp_path: Path) -> None:
    files = [tmp_path / f"{number}.sql" for number in range(len(BAD))]
    for file, statement in zip(files, BAD, strict=True):
        file.write_text(f"{statement};\n")
    good = tmp_path / "good.sql"
    good.write_text(GOOD)
    found = lint(*files, good)
    assert [rule in found[file.stem] for file, rule in zip(files, BAD.values(), strict=True)] == [True] * len(
        BAD
    )
    assert "good" not in found


@pytest.fixture
def hurried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(migrate, "LOCK_TIMEOUT_S", 0.05)
    monkeypatch.setattr(migrate, "PAUSE_S", 0.05)


def lock_quotes(config: Config) -> None:
    connection = config.attributes["connection"]
    connection.execute(text("LOCK TABLE quotes"))
    connection.commit()


@pytest.mark.usefixtures("hurried")
def test_a_migration_waits_its_turn_in_short_turns(database_url: str) -> None:
    tried: list[Config] = []

    def once_more(config: Config) -> None:
        tried.append(config)
        if len(tried) == 3:
            threading.Thread(target=reader.rollback).start()
        lock_quotes(config)

    with psycopg.connect(libpq_url(database_url)) as reader:
        reader.execute("SELECT FROM quotes")
        migrate._alembic(database_url, once_more)
    assert len(tried) >= 3


@pytest.mark.usefixtures("hurried")
def test_a_migration_that_gets_no_lock_gives_up(database_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(migrate, "ATTEMPTS", 2)
    with psycopg.connect(libpq_url(database_url)) as reader:
        reader.execute("SELECT FROM quotes")
        with pytest.raises(OperationalError, match="lock timeout"):
            migrate._alembic(database_url, lock_quotes)
