"""How gunicorn is set up, and what a container engine asks of it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from flask import Flask

from service import serve
from service.__main__ import main
from service.settings import load_settings
from tests.browser.conftest import serving


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("max 100000", 4),
        ("200000 100000", 2),
        ("250000 100000", 2),
        ("50000 100000", 1),
        ("900000 100000", 4),
    ],
)
def test_processes_follow_the_quota_of_the_container(
    said: str, found: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """https://docs.kernel.org/admin-guide/cgroup-v2.html, cpu.max: quota and period in microseconds."""
    (tmp_path / "cpu.max").write_text(said + "\n")
    monkeypatch.setattr(serve, "CPU_QUOTA", tmp_path / "cpu.max")
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 1, 2, 3})
    assert serve.cores() == found


def test_without_a_quota_all_processors_count(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serve, "CPU_QUOTA", tmp_path / "none")
    assert serve.cores() == len(os.sched_getaffinity(0))


def test_processes_are_renewed_at_different_times() -> None:
    options = serve.server_options(load_settings({"MAX_REQUESTS": "500"}), "127.0.0.1", 8000, 2)
    assert (options["max_requests"], options["max_requests_jitter"]) == (500, 50)
    assert options["forwarded_allow_ips"] == ""


def test_health_tells_ready_from_not_ready() -> None:
    app = Flask(__name__)
    answers = [200, 503]
    app.add_url_rule("/readyz", "readyz", lambda: ("", answers.pop(0)))
    with serving(app) as address:
        port = address.rpartition(":")[2]
        assert main(["health", "--port", port]) == 0
        assert main(["health", "--port", port]) == 1
    assert main(["health", "--port", port]) == 1
