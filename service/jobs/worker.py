"""A worker: takes jobs until it is stopped."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Mapping
from contextlib import suppress
from threading import Event
from typing import Any

import structlog
from procrastinate import App
from procrastinate.exceptions import ConnectorException
from prometheus_client import start_http_server

from service.jobs.app import make_app
from service.settings import Settings, SettingsError
from service.store.engine import make_engine
from service.store.queue import BALLPARKS_QUEUE, DEFAULT_QUEUE, WEBHOOKS_QUEUE
from service.store.watch import watch
from service.telemetry import tracing

log = structlog.get_logger()
PAUSE_S = 1.0
AT_ONCE = {DEFAULT_QUEUE: 1, WEBHOOKS_QUEUE: 4, BALLPARKS_QUEUE: 1}
"""Jobs of each queue that one worker does at the same time."""


def run_worker(settings: Settings, until_idle: bool = False) -> None:
    """Work off the queue, until stopped by a signal or (`until_idle`) until no job waits.

    One job at a time, and beside it a few deliveries to webhooks, which mostly wait for others, and one fit
    of ballparks: for more, run more workers.
    """
    if settings.database_url is None:
        raise SettingsError("DATABASE_URL must be set for a worker")
    if settings.metrics_address is not None:
        host, port = settings.metrics_address
        start_http_server(port, host)
    asyncio.run(_work(settings.database_url, settings, until_idle))


async def _work(url: str, settings: Settings, until_idle: bool) -> None:
    engine = make_engine(url, "office_batch", pool_size=sum(AT_ONCE.values()))
    watch(engine, settings.slow_statement_ms)
    known = {"engine": engine, "settings": settings, "stopping": Event()}
    try:
        if until_idle:
            async with make_app(url).open_async() as app:
                await _until_idle(app, known)
        else:
            await _until_stopped(url, known)
    finally:
        engine.dispose()
        tracing.flush()


async def _until_idle(app: App, known: Mapping[str, Any]) -> None:
    """The deliveries last, since other jobs make some; fits of ballparks are for workers that stay."""
    await _work_off(app, known, DEFAULT_QUEUE, wait=False)
    await _work_off(app, known, WEBHOOKS_QUEUE, wait=False)


async def _until_stopped(url: str, known: Mapping[str, Any]) -> None:
    """Until a signal; whatever else ends the work, as a database that is gone, is waited out."""
    stopped = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, stopped.set)
    while not stopped.is_set():
        try:
            async with make_app(url).open_async() as app:
                await _all_queues(app, known, stopped)
        except (ConnectorException, OSError) as fault:
            log.warning("worker-begins-anew", exc_info=fault)
        with suppress(TimeoutError):
            await asyncio.wait_for(stopped.wait(), PAUSE_S)


async def _all_queues(app: App, known: Mapping[str, Any], stopped: asyncio.Event) -> None:
    """All until one ends or the signal; the others then end what they have begun, and what takes minutes is
    told to leave off."""
    known["stopping"].clear()
    working = {asyncio.create_task(_work_off(app, known, queue, wait=True)) for queue in AT_ONCE}
    signalled = asyncio.create_task(stopped.wait())
    await asyncio.wait({*working, signalled}, return_when=asyncio.FIRST_COMPLETED)
    known["stopping"].set()
    for task in (*working, signalled):
        task.cancel()
    for fault in await asyncio.gather(*working, return_exceptions=True):
        if isinstance(fault, Exception):
            log.warning("queue-ended", exc_info=fault)


async def _work_off(app: App, known: Mapping[str, Any], queue: str, wait: bool) -> None:
    """Signals are heard for all queues at once."""
    await app.run_worker_async(
        queues=[queue],
        concurrency=AT_ONCE[queue],
        wait=wait,
        additional_context=dict(known),
        install_signal_handlers=False,
    )
