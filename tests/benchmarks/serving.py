"""Flask applications under gunicorn as `serve` starts them, driven by wrk and at a steady rate."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from threading import Thread

CLIENTS = 4
SERVICE = """
import os
from service import create_app
from service.serve import begin_process
from service.settings import load_settings
settings = load_settings(os.environ)
begin_process(settings)
app = create_app(settings)
"""


@dataclass(frozen=True)
class Asked:
    """A POST: `body` gives the one of each number from 0."""

    path: str
    headers: Mapping[str, str]
    body: Callable[[int], str]
    status: int = 200

    def send(self, connection: http.client.HTTPConnection, number: int) -> http.client.HTTPResponse:
        connection.request("POST", self.path, self.body(number), dict(self.headers))
        answer = connection.getresponse()
        told = answer.read()
        assert answer.status == self.status, told
        return answer


@dataclass(frozen=True)
class Site:
    """What is served: its port, and the process that leads it."""

    port: int
    pid: int

    def processor_ms(self) -> float:
        """What it and its workers have used of a processor, 0 where the system does not tell."""
        children = Path(f"/proc/{self.pid}/task/{self.pid}/children")
        pids = [str(self.pid), *children.read_text().split()] if children.exists() else []
        ticks = [Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[11:13] for pid in pids]
        return 1000 * sum(int(each) for pair in ticks for each in pair) / os.sysconf("SC_CLK_TCK")


@contextmanager
def served(code: str, folder: Path, environ: Mapping[str, str], asked: Asked) -> Iterator[Site]:
    """One gunicorn worker of four threads that has answered once."""
    folder.mkdir()
    (folder / "site_of_benchmark.py").write_text(code, "utf-8")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    options = ["-w", "1", "--threads", "4", "-k", "gthread", "--no-control-socket"]
    command = [sys.executable, "-m", "gunicorn", *options, "-b", f"127.0.0.1:{port}", "site_of_benchmark:app"]
    path = os.pathsep.join([str(folder), str(Path.cwd())])
    with subprocess.Popen(
        command, env={**os.environ, **environ, "PYTHONPATH": path}, cwd=folder, stderr=subprocess.DEVNULL
    ) as server:
        try:
            _wait(port, asked)
            yield Site(port, server.pid)
        finally:
            server.terminate()


def _wait(port: int, asked: Asked) -> None:
    for _ in range(300):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.1)
    connection = _connection(port)
    asked.send(connection, 0)
    connection.close()


def _connection(port: int) -> http.client.HTTPConnection:
    return http.client.HTTPConnection("127.0.0.1", port, timeout=120)


def script_of(asked: Asked, bodies: int) -> str:
    """A script for wrk that sends so many bodies by turns."""
    listed = ",\n".join(f"[[{asked.body(number)}]]" for number in range(bodies))
    headers = "".join(f'wrk.headers["{name}"] = "{value}"\n' for name, value in asked.headers.items())
    turns = "local turn = 0\nfunction request()\n  turn = turn + 1\n"
    sent = f'  return wrk.format("POST", "{asked.path}", nil, bodies[turn % {bodies} + 1])\nend\n'
    return f"local bodies = {{\n{listed}\n}}\n{headers}{turns}{sent}"


def requests_a_second(port: int, script: Path, seconds: int = 4) -> float:
    wrk = [
        "wrk",
        "-t1",
        "-c8",
        "--timeout",
        "20s",
        f"-d{seconds}s",
        "-s",
        str(script),
        f"http://127.0.0.1:{port}",
    ]
    told = subprocess.run(wrk, capture_output=True, text=True, check=True).stdout
    assert "Non-2xx" not in told, told
    return float(told.split("Requests/sec:")[1].split()[0])


def milliseconds(port: int, asked: Asked, rate: float, seconds: float) -> list[float]:
    """From when each request was due to its answer, at a steady rate over a few connections, sorted."""
    taken: list[float] = []
    numbers = count(1)

    def client(number: int) -> None:
        connection = _connection(port)
        began = time.perf_counter() + number / rate
        for place in range(int(rate * seconds / CLIENTS)):
            due = began + place * CLIENTS / rate
            time.sleep(max(0.0, due - time.perf_counter()))
            asked.send(connection, next(numbers))
            taken.append(1000 * (time.perf_counter() - due))
        connection.close()

    threads = [Thread(target=client, args=(number,)) for number in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sorted(taken)


@dataclass(frozen=True)
class OneByOne:
    """Milliseconds of each answer when nobody else asks, those that each tells as `Spent-Ms`, and what each
    took of the site's processor."""

    taken: Sequence[float]
    told: Sequence[float]
    processor: float


def one_by_one(site: Site, asked: Asked, numbers: Sequence[int]) -> OneByOne:
    connection, taken, told = _connection(site.port), [], []
    before = site.processor_ms()
    for number in numbers:
        began = time.perf_counter()
        answer = asked.send(connection, number)
        taken.append(1000 * (time.perf_counter() - began))
        told.append(float(answer.headers.get("Spent-Ms", 0)))
    connection.close()
    return OneByOne(taken, told, (site.processor_ms() - before) / len(numbers))
