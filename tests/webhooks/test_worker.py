"""A worker whose receivers let it wait still does its other jobs, and ends when it is told to."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, text

from service.quoting.webhooks.sealing import seal
from service.quoting.webhooks.signing import new_secret
from service.store.ids import new_id
from service.store.queue import NOTE_PRICE_CHANGE, enqueue
from service.store.session import org_of, transaction
from service.store.webhooks import TEST_EVENT, announce
from tests import factories
from tests.webhooks.receiver import Receiver

ROOT = Path(__file__).parents[2]
PEPPER = "a pepper for tests only"


@contextmanager
def worker(database_url: str) -> Iterator[subprocess.Popen[bytes]]:
    given = {"DATABASE_URL": database_url, "KEY_PEPPER": PEPPER, "WEBHOOK_TEST_NETWORK": "127.0.0.1/32"}
    command = [sys.executable, "-m", "service", "worker"]
    quiet: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, cwd=ROOT, env={**os.environ, **given}, **quiet) as process:
        try:
            yield process
        finally:
            process.kill()


def wait_for(engine: Engine, query: str) -> None:
    until = time.monotonic() + 20
    while time.monotonic() < until:
        with engine.connect() as connection:
            if connection.scalar(text(query)):
                return
        time.sleep(0.02)
    raise AssertionError(query)


def test_receivers_that_let_it_wait_hold_up_no_other_job(
    live_engine: Engine, receiver: Receiver, database_url: str
) -> None:
    answered = threading.Event()

    def late(handler: Any) -> None:
        answered.wait(20)
        handler.wfile.write(b"HTTP/1.1 204 No Content\r\n\r\n")

    receiver.answer = late
    with transaction(live_engine, new_id()) as session:
        factories.OrganisationFactory(session=session, org_id=org_of(session))
        sealed = seal(new_secret(), PEPPER)
        hook = factories.WebhookFactory(session=session, url=receiver.url, secret=sealed)
        for _ in range(3):
            announce(session, [hook.id], TEST_EVENT, datetime.now(UTC), {})
        enqueue(session, NOTE_PRICE_CHANGE, {"org_id": str(hook.org_id), "price_list_id": str(new_id())})
    jobs = "SELECT count(*) = {} FROM jobs.procrastinate_jobs WHERE task_name = 'office:{}' AND status = '{}'"
    with worker(database_url) as process:
        wait_for(live_engine, jobs.format(3, "deliver_webhook", "doing"))
        wait_for(live_engine, jobs.format(1, "note_price_change", "succeeded"))
        process.send_signal(signal.SIGTERM)
        time.sleep(0.2)
        assert process.poll() is None, "it ends what it has begun"
        answered.set()
        assert process.wait(timeout=10) == 0
    wait_for(live_engine, jobs.format(3, "deliver_webhook", "succeeded"))
    assert len(receiver.came) == 3
