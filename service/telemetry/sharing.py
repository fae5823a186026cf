"""Processes of one service that count together: each writes its counts to a file that all of them read.

The files are named by a worker's slot and not by its process, so that a worker that takes the place of
another goes on with its counts and no files pile up.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from shutil import rmtree
from typing import Any

FOLDER = "PROMETHEUS_MULTIPROC_DIR"  # the name that the package asks for

_slot: list[str] = ["main"]


@contextmanager
def sharing() -> Iterator[dict[str, Any]]:
    """gunicorn's hooks for it; RuntimeError where metrics were made before, which would count alone."""
    if "service.telemetry.metrics" in sys.modules:
        raise RuntimeError("metrics were made before their processes share a folder")
    folder, starter = tempfile.mkdtemp(prefix="floors-metrics-"), os.getpid()
    os.environ[FOLDER] = folder
    from prometheus_client import values

    values.ValueClass = values.MultiProcessValue(lambda: _slot[0])  # type: ignore[no-untyped-call]
    try:
        yield {"pre_fork": _give_slot, "post_fork": _take_slot, "child_exit": _leave_slot}
    finally:
        if os.getpid() == starter:  # the others leave through here too
            rmtree(folder, ignore_errors=True)


def _give_slot(server: Any, worker: Any) -> None:
    """The first that no living worker has."""
    taken = {other.floors_slot for other in server.WORKERS.values()}
    worker.floors_slot = next(slot for slot in range(len(taken) + 1) if slot not in taken)


def _take_slot(_: Any, worker: Any) -> None:
    _slot[0] = str(worker.floors_slot)


def _leave_slot(_: Any, worker: Any) -> None:
    """What a worker holds goes with it, what it has counted stays."""
    from prometheus_client.multiprocess import mark_process_dead

    mark_process_dead(worker.floors_slot)  # type: ignore[no-untyped-call]
