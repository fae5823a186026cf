"""Start what docker/compose.yaml names, with its own commands, settings and order, on free loopback ports.

Two things differ: ports, since all share one address, and PostgreSQL, which is the embedded one. nginx and
redis-server are the system's.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from service.store import embedded
from tests.topology import image
from tests.topology.database import make_database

DOCKER = image.ROOT / "docker"
NEEDED = ("nginx", "redis-server")
PATIENCE_S = 60
Service = Mapping[str, Any]


def missing() -> list[str]:
    """Programs that are not on this machine."""
    return [name for name in NEEDED if shutil.which(name) is None]


@dataclass
class Topology:
    """What runs: ports by service, logs by service, and how to talk to it."""

    folder: Path
    services: Mapping[str, Service]
    database: str
    ports: dict[str, int] = field(default_factory=dict)
    running: dict[str, subprocess.Popen[bytes]] = field(default_factory=dict)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.ports['proxy']}"

    def log(self, name: str) -> str:
        return (self.folder / f"{name}.log").read_text()

    def environment(self, name: str) -> dict[str, str]:
        """The compose file's, with this machine's folders and ports."""
        given = {key: _defaulted(str(value)) for key, value in self.services[name]["environment"].items()}
        for key, value in given.items():
            if value.startswith("/run/secrets/"):
                given[key] = value.replace("/run/secrets", str(self.folder / "secrets"))
        given["RATE_LIMIT_REDIS_URL"] = f"redis://127.0.0.1:{self.ports['limits']}/0"
        if "PROXY_NETWORKS" in given:
            given["PROXY_NETWORKS"] = "127.0.0.1/32"
        if "METRICS_ADDRESS" in given:
            given["METRICS_ADDRESS"] = f"127.0.0.1:{self.ports[name]}"
        kept = {"PATH": os.environ["PATH"], "HOME": "/tmp", "PYTHONDONTWRITEBYTECODE": "1"}
        return kept | given

    def start(self, name: str, command: Sequence[str], environment: Mapping[str, str]) -> None:
        with (self.folder / f"{name}.log").open("ab") as log:
            self.running[name] = subprocess.Popen(
                command, cwd=self.folder / "app", env=environment, stdout=log, stderr=log
            )

    def stop(self, name: str) -> int:
        """End a service as a container engine does; its exit status."""
        process = self.running.pop(name)
        process.terminate()
        try:
            return process.wait(timeout=PATIENCE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            return process.wait()

    def service_command(self, name: str) -> list[str]:
        """The image's entry point with the service's command, or the image's own."""
        said = self.services[name].get("command", image.the("CMD").words)
        words = [*image.the("ENTRYPOINT").words, *said]
        return _on_loopback([sys.executable, *words[1:]], self.ports.get(name))

    def start_service(self, name: str) -> None:
        self.start(name, self.service_command(name), self.environment(name))


def _defaulted(text: str) -> str:
    return re.sub(r"\$\{\w+:-([^}]*)\}", r"\1", text)


def _on_loopback(words: list[str], port: int | None) -> list[str]:
    given = {"--host": "127.0.0.1", "--port": str(port)}
    return [given.get(before, word) for before, word in zip(["", *words], words, strict=False)]


def _free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@contextmanager
def topology(folder: Path, **settings: str) -> Iterator[Topology]:
    """All of it, ready; `settings` are the API's beside those of the compose file."""
    with ExitStack() as stack:
        server = os.environ.get("DATABASE_URL") or _embedded(folder, stack)
        top = stack.enter_context(_prepared(folder, server))
        make_database(top)
        _start_limits(top)
        _migrate(top)
        for name in ("worker_1", "worker_2"):
            top.start_service(name)
        _start_api(top, settings)
        yield top


@contextmanager
def small_topology(folder: Path, database: str, **settings: str) -> Iterator[Topology]:
    """Proxy, rate limits and both replicas of the API, on a database that is there and migrated."""
    with _prepared(folder, database) as top:
        subprocess.run([DOCKER / "make-secrets", folder / "secrets"], check=True)
        (folder / "secrets" / "database_url").write_text(database)
        _start_limits(top)
        _start_api(top, settings)
        yield top


@contextmanager
def _prepared(folder: Path, database: str) -> Iterator[Topology]:
    """Nothing started yet; whatever is by then is stopped on leaving."""
    services = yaml.safe_load((DOCKER / "compose.yaml").read_text())["services"]
    top = Topology(folder, services, database)
    top.ports = {name: _free_port() for name in services}
    image.app_folder(folder)
    try:
        yield top
    finally:
        for process in top.running.values():
            process.terminate()
        for name in list(top.running):
            top.stop(name)


def _start_api(top: Topology, settings: Mapping[str, str]) -> None:
    for name in ("api_1", "api_2"):
        top.start(name, top.service_command(name), top.environment(name) | settings)
    wait_until_healthy(top, "api_1", "api_2")
    _start_proxy(top)


def _embedded(folder: Path, stack: ExitStack) -> str:
    place = folder / "postgres"
    stack.callback(embedded.stop, place)
    return embedded.start(place, embedded.FAST_AND_FORGETFUL)


def _start_limits(top: Topology) -> None:
    said = [str(word) for word in top.services["limits"]["command"]]
    here = ["--port", str(top.ports["limits"]), "--bind", "127.0.0.1", "--dir", str(top.folder)]
    top.start("limits", [*said, *here], {"PATH": os.environ["PATH"]})
    _wait_for_port(top, "limits")


def _migrate(top: Topology) -> None:
    top.start_service("migrate")
    status = top.running.pop("migrate").wait()
    assert status == 0, top.log("migrate")


def _start_proxy(top: Topology) -> None:
    config = (DOCKER / "nginx.conf").read_text()
    tmp = top.folder / "proxy"
    tmp.mkdir()
    places = {r"\bapi_(\d):8000": lambda found: f"127.0.0.1:{top.ports[f'api_{found[1]}']}"}
    changes: Mapping[str, Any] = {
        **places,
        r"listen 8080": f"listen 127.0.0.1:{top.ports['proxy']}",
        r"/tmp/": f"{tmp}/",
    }
    for pattern, put in changes.items():
        config, count = re.subn(pattern, put, config)
        assert count, f"{pattern} is not in the proxy's configuration"
    if os.geteuid() == 0:  # else its workers are another user, who may not come into this folder
        config = f"user root;\n{config}"
    (tmp / "nginx.conf").write_text(config)
    said = top.services["proxy"]["command"]
    words = [str(tmp / "nginx.conf") if word.endswith("nginx.conf") else word for word in said]
    top.start("proxy", words, {"PATH": os.environ["PATH"]})
    _wait_for_port(top, "proxy")


def _wait_for_port(top: Topology, name: str) -> None:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            socket.create_connection(("127.0.0.1", top.ports[name])).close()
            return
        except OSError:
            assert top.running[name].poll() is None, top.log(name)
            assert time.monotonic() < until, f"{name} does not come up"
            time.sleep(0.05)


def wait_until_healthy(top: Topology, *names: str) -> None:
    """Ask by the image's own health check until it says so."""
    until = time.monotonic() + PATIENCE_S
    for name in names:
        _wait_for_port(top, name)
        words = [sys.executable, *image.the("HEALTHCHECK").words[1:]]
        check = _on_loopback(words, top.ports[name])
        while subprocess.run(
            check, cwd=top.folder / "app", env=top.environment(name), check=False
        ).returncode:
            assert time.monotonic() < until, top.log(name)
            time.sleep(0.2)
