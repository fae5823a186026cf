"""Backup and restore with PostgreSQL's own programs, under the role that row-level security lets by."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest

from service.store import embedded
from service.store.engine import libpq_url, make_engine
from service.store.migrate import upgrade
from service.store.readiness import faults
from tests.store.every_table import columns, fill, rows


def run(program: str, *arguments: str | Path, **more: str) -> None:
    """One of PostgreSQL's programs, of the release that serves."""
    try:
        found = embedded._binaries() / program
    except embedded.EmbeddedUnavailable:
        pytest.skip("PostgreSQL's programs come with the extra [embedded], which is not installed")
    done = subprocess.run(
        [found, *arguments], env={**os.environ, **more}, check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr


def test_a_dump_restores_every_row(make_database: Callable[..., str], tmp_path: Path) -> None:
    url = make_database("dumped")
    fill(url)
    fill(url)  # two organisations
    dump = tmp_path / "office.dump"
    run("pg_dump", f"--dbname={libpq_url(url)}", "--role=office_backup", "--format=custom", f"--file={dump}")
    restored = make_database("restored", "template0")
    run("pg_restore", f"--dbname={libpq_url(restored)}", "--exit-on-error", "--single-transaction", dump)
    held = columns(url)
    assert rows(restored, held) == rows(url, held)
    assert len(rows(restored, {"organisations": ["org_id"]})["organisations"]) == 2
    engine = make_engine(restored)
    assert faults(engine) == []
    with engine.connect() as connection:  # the wall stands in the new database too
        assert connection.exec_driver_sql("SELECT count(*) FROM quotes").scalar() == 0
    engine.dispose()


def test_only_the_backup_role_sees_all_and_it_writes_nothing(database_url: str) -> None:
    every = """SELECT bool_and(has_table_privilege('office_backup', oid, 'SELECT')),
            bool_or(has_table_privilege('office_backup', oid, 'INSERT, UPDATE, DELETE, TRUNCATE'))
        FROM pg_class WHERE relkind = 'r' AND relnamespace::regnamespace::text IN ('public', 'jobs')"""
    roles = """SELECT rolname, rolbypassrls, rolcanlogin, rolsuper FROM pg_roles
        WHERE rolname IN ('office_app', 'office_backup', 'office_batch', 'office_owner') ORDER BY 1"""
    with psycopg.connect(libpq_url(database_url)) as connection:
        assert connection.execute(every).fetchone() == (True, False)
        assert connection.execute(roles).fetchall() == [
            ("office_app", False, False, False),
            ("office_backup", True, False, False),
            ("office_batch", False, False, False),
            ("office_owner", False, False, False),
        ]


def test_a_role_behind_the_wall_makes_no_dump_that_looks_whole(database_url: str, tmp_path: Path) -> None:
    with pytest.raises(AssertionError, match="row-level security"):
        run(
            "pg_dump",
            f"--dbname={libpq_url(database_url)}",
            "--role=office_owner",
            f"--file={tmp_path / 'd'}",
        )


@pytest.fixture
def place() -> Iterator[Path]:
    """A folder that another user may reach, as pytest's own are not: PostgreSQL does not run as root."""
    found = Path(tempfile.mkdtemp(prefix="office-"))
    found.chmod(0o755)
    yield found
    shutil.rmtree(found)


@pytest.fixture
def archiving(place: Path) -> Iterator[str]:
    """A cluster of its own that keeps its log in `archive`, with the migrated schema."""
    for folder in ("archive", "base"):
        (place / folder).mkdir(mode=0o700)
        embedded._give(place / folder)
    keep = f"cp %p {place}/archive/%f"
    url = embedded.start(place / "old", {"archive_mode": "on", "archive_command": keep})
    upgrade(url)
    yield url
    embedded.stop(place / "old")


@pytest.mark.full
def test_a_base_copy_and_the_log_bring_back_any_moment(archiving: str, place: Path) -> None:
    fill(archiving)
    base = place / "base"
    embedded._run(
        "pg_basebackup",
        f"--dbname={libpq_url(archiving)}",
        f"--pgdata={base}",
        "--wal-method=none",
        "--checkpoint=fast",
        folder=base,
    )
    fill(archiving)  # after the copy, before the moment
    held = rows(archiving, columns(archiving))
    moment = archived_moment(archiving)
    fill(archiving)  # after the moment: this is what went wrong
    archived_moment(archiving)
    embedded.stop(place / "old")
    restored = recovered(place, base, moment)
    try:
        assert rows(restored, columns(restored)) == held
        fill(restored)  # and it takes more
    finally:
        embedded.stop(place / "new")


def archived_moment(url: str) -> str:
    """Now, by the server's clock, once all of the log up to now is in the archive."""
    with psycopg.connect(libpq_url(url), autocommit=True) as connection:
        moment, segment = connection.execute(
            "SELECT clock_timestamp()::text, pg_walfile_name(pg_switch_wal())"
        ).fetchone() or ("", "")
        done = "SELECT last_archived_wal >= %s FROM pg_stat_archiver"
        until = time.monotonic() + 30
        while not (connection.execute(done, [segment]).fetchone() or [None])[0]:
            assert time.monotonic() < until, "the log is not archived"
            time.sleep(0.05)
    return str(moment)


def recovered(folder: Path, base: Path, moment: str) -> str:
    """The address of a new cluster, made from the copy and the archive as it was at the moment."""
    new = folder / "new"
    new.mkdir(mode=0o700)
    base.rename(new / "cluster")
    (new / "password").write_text((folder / "old" / "password").read_text())
    with (new / "cluster" / "postgresql.auto.conf").open("a") as settings:
        settings.write(f"restore_command = 'cp {folder}/archive/%f %p'\n")
        settings.write(f"recovery_target_time = '{moment}'\nrecovery_target_action = 'promote'\n")
    (new / "cluster" / "recovery.signal").touch()
    embedded._give(new / "cluster" / "recovery.signal")
    url = embedded.start(new)
    with psycopg.connect(libpq_url(url), autocommit=True) as connection:
        until = time.monotonic() + 30
        while (connection.execute("SELECT pg_is_in_recovery()").fetchone() or [True])[0]:
            assert time.monotonic() < until, "the recovery does not end"
            time.sleep(0.05)
    return url
