"""The service under gunicorn, with or without a worker beside it."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from gunicorn.app.base import BaseApplication
from gunicorn.glogging import Logger

from service import create_app
from service.listening import Worker
from service.settings import Settings
from service.telemetry import logs, tracing
from service.telemetry.sharing import sharing

CPU_QUOTA = Path("/sys/fs/cgroup/cpu.max")
DOORKEEPERS = 60
"""Threads beside those at work and those that wait: for slow clients, refusals and questions of health."""
KEEP_ALIVE_S = 75
"""Longer than a proxy keeps an idle connection (nginx: 60 s), so that it is never closed under a request."""


class _Logger(Logger):  # type: ignore[misc]
    """gunicorn's, left to the handler of this process."""

    def setup(self, cfg: Any) -> None:
        super().setup(cfg)
        self.error_log.handlers.clear()
        self.error_log.propagate = True


class _Server(BaseApplication):  # type: ignore[misc]
    """gunicorn with settings from the command line instead of a file of its own."""

    def __init__(self, settings: Settings, options: dict[str, Any]) -> None:
        self.settings = settings
        self.options = options
        super().__init__()

    def load_config(self) -> None:
        for name, value in self.options.items():
            self.cfg.set(name, value)

    def load(self) -> Any:
        """Loaded once, before the processes part. What is loaded stays: the garbage collector need not go
        through it again, neither while serving nor at the end."""
        app = create_app(self.settings)
        gc.freeze()
        return app


def serve(settings: Settings, host: str, port: int, workers: int) -> None:
    """Serve until stopped; loaded once, each worker process then opens its own connections."""
    begin_process(settings)
    with sharing() as hooks:
        options = server_options(settings, host, port, workers) | hooks
        _Server(replace(settings, processes=workers), options).run()


def begin_process(settings: Settings) -> None:
    """Logs and traces of a process that is the service's alone."""
    logs.set_up_process(settings.log_level)
    tracing.set_up(settings)


def server_options(settings: Settings, host: str, port: int, workers: int) -> dict[str, Any]:
    """gunicorn's settings. It believes no forwarded header: the application does, from its proxies only."""
    return {
        "bind": f"{host}:{port}",
        "workers": workers,
        "limit_request_line": 8190,  # a cursor and filters in letters of four bytes each
        "threads": settings.threads + settings.max_waiting + DOORKEEPERS,
        "worker_class": Worker,
        "preload_app": True,
        "max_requests": settings.max_requests,
        "max_requests_jitter": settings.max_requests // 10,
        "graceful_timeout": settings.graceful_timeout_s,
        "keepalive": KEEP_ALIVE_S,
        "forwarded_allow_ips": "",
        "logger_class": _Logger,
        "control_socket_disable": True,
    }


def cores() -> int:
    """Processors that this process may use: those it may run on, or the quota of its container."""
    allowed = len(os.sched_getaffinity(0))
    try:
        quota, period = CPU_QUOTA.read_text().split()
    except (OSError, ValueError):
        return allowed
    return allowed if quota == "max" else max(1, min(allowed, int(quota) // int(period)))


@contextmanager
def worker_process(settings: Settings, **environment: str) -> Iterator[None]:
    """A queue worker of its own process for as long as the service runs.

    gunicorn's children leave through this block too; only the process that started the worker ends it.
    """
    environment = {
        **os.environ,
        "DATABASE_URL": settings.database_url or "",
        "DATABASE_URL_FILE": "",
        **environment,
    }
    worker = subprocess.Popen([sys.executable, "-m", "service", "worker"], env=environment)
    starter = os.getpid()
    try:
        yield
    finally:
        if os.getpid() == starter:
            worker.terminate()
            try:
                worker.wait(timeout=settings.graceful_timeout_s)
            except subprocess.TimeoutExpired:  # in a job of minutes, which another worker takes again
                worker.kill()
                worker.wait()
