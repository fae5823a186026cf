"""The examples beside the description do what they say, on the live service."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask

from tests.api.conftest import app, operations, settings
from tests.browser.conftest import serving
from tests.published.history import ROOT

__all__ = ["app", "operations", "settings"]
EXAMPLES = ROOT / "openapi" / "examples"
JOB = ROOT / "service" / "demo" / "rooms.json"


@pytest.fixture
def environment(app: Flask, invented_office: str) -> Iterator[dict[str, str]]:
    """Where the service is and which key opens it, as both programs are told."""
    with serving(app) as address:
        yield {**os.environ, "FLOORS": address, "KEY": invented_office, "no_proxy": "127.0.0.1"}


def said(command: list[str], environment: dict[str, str], folder: Path) -> list[str]:
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout.splitlines()


def test_the_session_with_curl(environment: dict[str, str], tmp_path: Path) -> None:
    if shutil.which("curl") is None:
        pytest.skip("no curl on this machine")
    lines = said(["/bin/sh", str(EXAMPLES / "session.sh")], environment, tmp_path)
    assert lines[1].startswith("quote FF-")
    assert lines[1].endswith(" USD")
    assert lines[3] == "it is issued"
    assert "membrane" in "\n".join(lines[4:]), "the list of what to order"
    assert int(lines[0].split()[3]) > 1000
    assert int(lines[2].split()[3]) > 10_000


def test_an_offices_program_in_forty_lines(environment: dict[str, str], tmp_path: Path) -> None:
    program = EXAMPLES / "office.py"
    assert len(program.read_text("utf-8").splitlines()) <= 40
    lines = said([sys.executable, str(program), str(JOB)], environment, tmp_path)
    number, gross, currency = lines[0].split()
    assert (number[:3], currency, lines[1]) == ("FF-", "USD", "issued")
    assert float(gross) > 0
    assert (tmp_path / f"{number}.pdf").read_bytes().startswith(b"%PDF-")
    assert all(" lines " in line for line in lines[2:])
    assert lines[2:]
