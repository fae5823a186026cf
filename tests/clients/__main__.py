"""`python -m tests.clients`: the description goes through a style check; clients are generated from it, held
to their languages' type checkers, and do the demo's job on a live service. Nothing generated is kept.

Without node and npm the style check and the TypeScript client are left out, and it says so;
`CLIENT_CHECK=required` fails then.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from urllib.error import URLError

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
SPEC = ROOT / "openapi" / "openapi.json"
JOB = ROOT / "service" / "demo" / "rooms.json"
KEY = "key-of-the-client-check"
PATIENCE_S = 120
PACKAGE = "floor_pricing_client"


def run(name: str, command: Sequence[str], folder: Path, job: str | None = None, **environ: str) -> str:
    """What a command says; its words and the end of everything where it fails."""
    began = time.monotonic()
    done = subprocess.run(
        command,
        cwd=folder,
        env={**os.environ, **environ},
        input=job,
        stdin=subprocess.DEVNULL if job is None else None,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    print(f"{name}: {'done' if done.returncode == 0 else 'failed'} in {time.monotonic() - began:.0f} s")
    if done.returncode != 0:
        raise SystemExit(done.stdout)
    return done.stdout


@contextmanager
def live(folder: Path) -> Iterator[str]:
    """The address of the service with the invented office, on a database of its own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "service", "serve", "--demo", "--key", KEY, "--port", str(port)]
    environ = {**os.environ, "PYTHONPATH": str(ROOT), "DATA_DIR": str(folder / "data"), "DATABASE_URL": ""}
    environ["GRACEFUL_TIMEOUT_S"] = "2"
    log = folder / "service.log"
    with (
        log.open("wb") as said,
        subprocess.Popen(command, cwd=ROOT, env=environ, stdout=said, stderr=said) as own,
    ):
        try:
            _wait(f"http://127.0.0.1:{port}", own, log)
            yield f"http://127.0.0.1:{port}"
        finally:
            own.terminate()


def _wait(address: str, own: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + PATIENCE_S
    while own.poll() is None and time.monotonic() < until:
        try:
            with urllib.request.urlopen(f"{address}/readyz", timeout=5):
                return
        except (URLError, OSError):
            time.sleep(0.2)
    raise SystemExit(log.read_text())


def python_client(folder: Path) -> Sequence[str]:
    """Generated and checked; the command that runs the program on it."""
    tool = [sys.executable, "-m", "openapi_python_client", "generate", "--meta", "none", "--fail-on-warning"]
    config = ["--config", str(HERE / "python.yaml"), "--output-path", PACKAGE, "--path", str(SPEC)]
    run("Python client, generated", [*tool, *config], folder)
    shutil.copy(HERE / "office.py", folder)
    run("Python client, typed", [sys.executable, "-m", "mypy", "--strict", "office.py"], folder)
    return [sys.executable, "office.py"]


def typescript_client(folder: Path) -> Sequence[str]:
    """The same in the folder of the installed node packages, after the style check."""
    bin_ = folder / "node_modules" / ".bin"
    rules = [str(bin_ / "spectral"), "lint", "--ruleset", "spectral.yaml", "--fail-severity", "hint"]
    run("style of the description", [*rules, str(SPEC)], folder)
    tool = [str(bin_ / "openapi-typescript"), str(SPEC), "--default-non-nullable=false"]
    run("TypeScript client, generated", [*tool, "--output", "schema.d.ts"], folder)
    run("TypeScript client, typed", [str(bin_ / "tsc"), "--project", "."], folder)
    return ["node", "office.js"]


def installed(folder: Path) -> bool:
    """Whether there is a node, with the packages of package-lock.json in `folder` then."""
    if not (shutil.which("node") and shutil.which("npm")):
        print("no node or no npm: neither style check nor TypeScript client")
        if os.environ.get("CLIENT_CHECK") == "required":
            raise SystemExit(1)
        return False
    for name in ("package.json", "package-lock.json", "spectral.yaml", "tsconfig.json", "office.ts"):
        shutil.copy(HERE / name, folder)
    run("node packages", ["npm", "ci", "--ignore-scripts", "--no-audit", "--no-fund"], folder)
    return True


def main() -> int:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        programs = {"Python": python_client(folder)}
        if installed(folder):
            programs["TypeScript"] = typescript_client(folder)
        with live(folder) as address:
            job = JOB.read_text("utf-8")
            said = {
                language: run(f"{language} client, at work", [*command, address, KEY], folder, job)
                for language, command in programs.items()
            }
    for language, lines in said.items():
        print(f"\n{language}:\n{lines}", end="")
    told = {
        tuple(line for line in lines.splitlines() if not line.startswith("quote")) for lines in said.values()
    }
    if len(told) != 1:
        raise SystemExit("the clients were told different things")
    return 0


if __name__ == "__main__":
    sys.exit(main())
