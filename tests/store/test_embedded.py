"""The embedded server: kept, private, owned by one process, several at once, as root and not."""

from __future__ import annotations

import importlib.util
import os
import pwd
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from service.store import embedded
from service.store.embedded import EmbeddedUnavailable, embedded_postgres

ROOT = Path(__file__).parents[2]
ONE = """
import sys
from pathlib import Path
from service.store.embedded import embedded_postgres
import psycopg
with embedded_postgres(Path(sys.argv[1])) as url, psycopg.connect(url) as connection:
    print(connection.execute("SELECT current_setting('server_version_num')::int >= 160000").fetchone()[0])
"""

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec(embedded.WHEEL) is None, reason="the extra [embedded] is not installed"
)


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    """One cluster for these tests, with a short path: a socket's has about a hundred characters at most."""
    with tempfile.TemporaryDirectory(prefix="pg-") as name:
        yield Path(name) / "data"


def mode(place: Path) -> int:
    return place.stat().st_mode & 0o777


def test_data_stays_and_the_server_goes(folder: Path) -> None:
    with embedded_postgres(folder) as url, psycopg.connect(url, autocommit=True) as connection:
        connection.execute("CREATE TABLE kept AS SELECT 42 AS answer")
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(url)
    with embedded_postgres(folder) as url, psycopg.connect(url) as connection:
        assert connection.execute("SELECT answer FROM kept").fetchone() == (42,)


def test_it_is_private(folder: Path) -> None:
    with embedded_postgres(folder) as url:
        with psycopg.connect(url) as connection:
            assert connection.execute("SHOW listen_addresses").fetchone() == ("",)
            methods = connection.execute("SELECT DISTINCT auth_method FROM pg_hba_file_rules").fetchall()
            assert methods == [("scram-sha-256",)]
        assert (mode(folder), mode(folder / "socket"), mode(folder / "password")) == (0o700, 0o700, 0o600)
        with pytest.raises(psycopg.OperationalError, match="password"):
            psycopg.connect(url.replace((folder / "password").read_text(), "guess"))


def test_whoever_comes_second_is_a_guest(folder: Path) -> None:
    with embedded_postgres(folder) as url:
        with embedded_postgres(folder) as same:
            assert same == url
        psycopg.connect(url).close()


def test_a_forked_process_leaves_the_server_alone(folder: Path) -> None:
    """As when a web server forks its workers while the embedded server is up."""
    script = """
import os, sys
from pathlib import Path
import psycopg
from service.store.embedded import embedded_postgres
with embedded_postgres(Path(sys.argv[1])) as url:
    child = os.fork()
    if child == 0:
        sys.exit(0)
    os.waitpid(child, 0)
    psycopg.connect(url).close()
"""
    subprocess.run([sys.executable, "-c", script, str(folder)], cwd=ROOT, timeout=60, check=True)


def test_a_dead_owners_server_is_taken_over(folder: Path) -> None:
    embedded.start(folder)
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    (folder / "owner").write_text(str(gone.pid))
    with embedded_postgres(folder) as url:
        psycopg.connect(url).close()
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(url)


def test_a_pid_file_left_by_a_crash_does_not_mislead(folder: Path) -> None:
    with embedded_postgres(folder):
        left = (folder / "cluster" / "postmaster.pid").read_text().splitlines()
    left[0] = str(os.getpid())  # a number that another program has by now
    (folder / "cluster" / "postmaster.pid").write_text("\n".join(left))
    with embedded_postgres(folder) as url:
        psycopg.connect(url).close()


def test_two_at_once_on_two_folders() -> None:
    with tempfile.TemporaryDirectory(prefix="pg-") as name:
        places = [Path(name) / place for place in ("one", "two")]
        running = [
            subprocess.Popen([sys.executable, "-c", ONE, str(p)], cwd=ROOT, stdout=subprocess.PIPE)
            for p in places
        ]
        assert [p.communicate(timeout=60)[0].strip() for p in running] == [b"True", b"True"]


def test_a_folder_too_deep_for_a_socket() -> None:
    with tempfile.TemporaryDirectory(prefix="pg-") as name:
        with embedded_postgres(Path(name) / ("deep" * 30)) as url:
            psycopg.connect(url).close()
            socket = Path(psycopg.conninfo.conninfo_to_dict(url)["host"])
            assert mode(socket) == 0o700
        assert not socket.exists()


AS_NOBODY = """
import os, pwd, sys
import encodings.idna, psycopg
from service.store import embedded
nobody = pwd.getpwnam("nobody")
os.chown(os.path.dirname(sys.argv[1]), nobody.pw_uid, nobody.pw_gid)
os.setgroups([])
os.setgid(nobody.pw_gid)
os.setuid(nobody.pw_uid)
"""


@pytest.mark.skipif(os.geteuid() != 0, reason="all other tests here run unprivileged already")
def test_it_runs_for_an_unprivileged_user_too() -> None:
    """The process gives up its privileges after its imports, which may lie where only root can read."""
    with tempfile.TemporaryDirectory(prefix="pg-") as name:
        command = [sys.executable, "-c", AS_NOBODY + ONE, f"{name}/data"]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, timeout=60, check=False)
        assert done.stdout.strip() == b"True", done.stderr
        assert (Path(name) / "data").stat().st_uid == pwd.getpwnam("nobody").pw_uid


def test_without_the_wheel_the_message_says_what_to_do(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(embedded, "WHEEL", "no_such_wheel")
    with pytest.raises(EmbeddedUnavailable, match=r"set DATABASE_URL or install .*\[embedded\]"):
        embedded.start(folder)
