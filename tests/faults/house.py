"""The service as plain processes on a cluster of its own, and how its parts are hit and seen."""

from __future__ import annotations

import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import psutil

from service.demo.run import demo_job
from service.demo.seed import ORGANISATION, product_ids, seed
from service.settings import load_settings
from service.store import embedded
from service.store.engine import make_engine
from service.store.migrate import ROOT, upgrade
from service.store.session import transaction
from tests.conftest import DEMO_KEY, PEPPER

SAFE_AGAINST_KILLS = {"fsync": "off"}
"""What a killed server has written the system keeps; only the machine's own end would lose it."""
PATIENCE_S = 60.0
READY_WITHIN_S = 10.0


BROKEN, SHUT = 0, -1


class Answer(NamedTuple):
    """`BROKEN`: nobody told what became of the request. `SHUT`: there was no door to bring it to."""

    status: int
    body: Any
    headers: Mapping[str, str]


@dataclass
class House:
    folder: Path
    database: str
    port: int
    settings: Mapping[str, str]
    job: dict[str, Any] = field(default_factory=dict)
    running: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)

    def call(self, method: str, path: str, body: Any = None, timeout: float = 30, **headers: str) -> Answer:
        named = {"Authorization": f"Bearer {DEMO_KEY}", "Content-Type": "application/json"}
        named |= {name.replace("_", "-"): value for name, value in headers.items()}
        data = None if body is None else json.dumps(body).encode()
        asked = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data, named, method=method)
        try:
            with urllib.request.urlopen(asked, timeout=timeout) as answer:
                return Answer(answer.status, json.load(answer), answer.headers)
        except urllib.error.HTTPError as refusal:
            return Answer(refusal.code, json.load(refusal), refusal.headers)
        except (OSError, ValueError, http.client.HTTPException) as fault:
            shut = isinstance(getattr(fault, "reason", None), ConnectionRefusedError)
            return Answer(SHUT if shut else BROKEN, None, {})

    def ready(self) -> bool:
        return self.call("GET", "/readyz", timeout=5).status == 200

    def until_ready(self, processes: int = 2) -> None:
        """Within the promised time, with all its processes."""
        self.until(lambda: self.ready() and len(self.children("api")) == processes, READY_WITHIN_S)

    def quote(self, name: str) -> Answer:
        """One small quote of a customer of this name, which is its Idempotency-Key too."""
        body = {**self.job, "customer": {"name": name}}
        return self.call("POST", "/v1/quotes", body, Idempotency_Key=name)

    def start(self, name: str, *command: str, prefix: tuple[str, ...] = (), **more: str) -> None:
        environment = {"PATH": os.environ["PATH"], "PYTHONPATH": str(ROOT), "DATABASE_URL": self.database}
        environment |= {"KEY_PEPPER": PEPPER, "ENVIRONMENT": "production", **self.settings, **more}
        with (self.folder / f"{name}.log").open("ab") as log:
            self.running[name] = subprocess.Popen(
                [*prefix, sys.executable, "-m", "service", *command],
                cwd=ROOT,
                env=environment,
                stdout=log,
                stderr=log,
            )

    def start_api(self, workers: int = 2, **more: str) -> None:
        self.start("api", "serve", "--port", str(self.port), "--workers", str(workers), **more)
        self.until(self.ready)

    def stop(self, name: str) -> int:
        """Its exit status after a polite end."""
        process = self.running.pop(name)
        process.terminate()
        try:
            return process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            return process.wait()

    def kill(self, name: str) -> None:
        process = self.running.pop(name)
        process.kill()
        process.wait()

    def log(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text()

    def children(self, name: str) -> list[psutil.Process]:
        return psutil.Process(self.running[name].pid).children()

    def until(self, true: Callable[[], bool], within_s: float = PATIENCE_S) -> float:
        """Wait until it is true; how long it took."""
        began = time.monotonic()
        while not true():
            took = time.monotonic() - began
            assert took < within_s, {name: self.log(name)[-2000:] for name in self.running}
            time.sleep(0.05)
        return time.monotonic() - began

    def kill_database(self) -> None:
        """SIGKILL to the server and to each of its processes."""
        pid = int((self.folder / "postgres" / "cluster" / "postmaster.pid").read_text().splitlines()[0])
        server = psutil.Process(pid)
        processes = [server, *server.children(recursive=True)]
        for process in processes:
            with suppress(psutil.NoSuchProcess):
                process.kill()
        psutil.wait_procs(processes, timeout=PATIENCE_S)

    def start_database(self) -> None:
        """At the address that it had."""
        place = self.folder / "postgres"
        for left in (place / "socket").glob(".s.PGSQL*"):
            left.unlink()
        assert embedded.start(place, SAFE_AGAINST_KILLS) == self.database


@contextmanager
def house(**settings: str) -> Iterator[House]:
    """A migrated cluster with the invented office; nothing serves yet."""
    folder = Path(tempfile.mkdtemp(prefix="house-"))
    folder.chmod(0o755)
    database = embedded.start(folder / "postgres", SAFE_AGAINST_KILLS)
    found = House(folder, database, _free_port(), settings)
    try:
        upgrade(database)
        seed(load_settings({"DATABASE_URL": database, "KEY_PEPPER": PEPPER}), DEMO_KEY)
        found.job = _small_job(database)
        yield found
    finally:
        for name in list(found.running):
            found.running[name].send_signal(signal.SIGCONT)
            found.stop(name)
        embedded.stop(folder / "postgres")
        shutil.rmtree(folder, ignore_errors=True)


def _small_job(database: str) -> dict[str, Any]:
    engine = make_engine(database)
    with transaction(engine, ORGANISATION) as session:
        job = demo_job(product_ids(session))
    engine.dispose()
    return {**job, "rooms": job["rooms"][:1]}


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])
