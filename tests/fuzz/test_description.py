"""The running service called as its description allows and as it does not (schemathesis), with all checks.

No fault of the service, no status, header or body that is not announced, no bad request that is taken, no
good one that is refused without a reason that no schema can say; sequences follow the description's links.
"""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.conftest import PEPPER

HERE = Path(__file__).parent
KEY = "a-key-for-generated-requests"
CASES = int(os.environ.get("FUZZ_CASES", "1000"))
"""How many requests at least: 20000 for the long run."""
OPERATIONS = 103
"""About as many as there are, of which each gets its share."""
QUOTAS = ("REQUESTS_PER_KEY", "BALLPARKS_PER_KEY", "BALLPARKS_PER_ADDRESS")
WITHOUT_LIMITS = dict.fromkeys(QUOTAS, "1000000")
SERVE = (sys.executable, "-m", "service", "serve", "--demo", "--key", KEY, "--workers", "2", "--port")


@pytest.fixture
def address(make_database: Callable[..., str], tmp_path: Path) -> Iterator[str]:
    """The service with the invented organisation, on a database of its own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    environment = {
        **os.environ,
        **WITHOUT_LIMITS,
        "DATABASE_URL": make_database("fuzz"),
        "KEY_PEPPER": PEPPER,
    }
    with (
        (tmp_path / "log").open("w") as log,
        subprocess.Popen(
            [*SERVE, str(port)], cwd=HERE.parents[1], env=environment, stdout=log, stderr=log
        ) as server,
    ):
        try:
            yield _ready(f"http://127.0.0.1:{port}", server)
        finally:
            server.terminate()


def _ready(address: str, server: subprocess.Popen[bytes]) -> str:
    until = time.monotonic() + 90
    while time.monotonic() < until and server.poll() is None:
        try:
            urllib.request.urlopen(f"{address}/readyz", timeout=5).close()
            return address
        except OSError:
            time.sleep(0.2)
    raise AssertionError("the service does not come up")


def _command(address: str) -> list[str]:
    each = max(1, CASES // OPERATIONS)
    phases = "examples,fuzzing,stateful" if CASES < 10_000 else "examples,coverage,fuzzing,stateful"
    return [
        str(Path(sys.executable).parent / "st"),
        *("--config-file", str(HERE / "schemathesis.toml")),
        *("run", f"{address}/openapi.json", "-H", f"Authorization: Bearer {KEY}"),
        *("--checks", "all", "--phases", phases, "-n", str(each), "--workers", "2"),
        *("--continue-on-failure", "--no-shrink", "--no-color", "--request-timeout", "30"),
        *("--generation-deterministic", "--suppress-health-check", "all"),
    ]


@pytest.mark.fuzz
def test_what_is_generated_from_the_description_finds_nothing(address: str, tmp_path: Path) -> None:
    run = subprocess.run(_command(address), cwd=tmp_path, capture_output=True, text=True, check=False)
    told = run.stdout[-20_000:] + run.stderr[-2000:]
    assert run.returncode == 0, told
    generated = re.search(r"(\d+) generated", run.stdout)
    assert generated is not None, told
    assert int(generated[1]) >= CASES, told
    asked = urllib.request.Request(f"{address}/v1/suppliers", headers={"Authorization": f"Bearer {KEY}"})
    with urllib.request.urlopen(asked, timeout=10) as answer:
        assert answer.status == 200, "the key was good to the end"
