"""The service under gunicorn, with or without a worker beside it."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from gunicorn.app.base import BaseApplication

from service import create_app
from service.settings import Settings

GRACEFUL_TIMEOUT_S = 20


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
    """Serve until stopped; each worker process opens its own connections."""
    options = {
        "bind": f"{host}:{port}",
        "workers": workers,
        "threads": 4,
        "worker_class": "gthread",
        "graceful_timeout": GRACEFUL_TIMEOUT_S,
        "control_socket_disable": True,
    }
    _Server(replace(settings, processes=workers), options).run()


@contextmanager
def worker_process(settings: Settings) -> Iterator[None]:
    """A queue worker of its own process for as long as the service runs.

    gunicorn's children leave through this block too; only the process that started the worker ends it.
    """
    environment = {**os.environ, "DATABASE_URL": settings.database_url or ""}
    worker = subprocess.Popen([sys.executable, "-m", "service", "worker"], env=environment)
    starter = os.getpid()
    try:
        yield
    finally:
        if os.getpid() == starter:
            worker.terminate()
            try:
                worker.wait(timeout=GRACEFUL_TIMEOUT_S)
            except subprocess.TimeoutExpired:  # in a job of minutes, which another worker takes again
                worker.kill()
                worker.wait()
