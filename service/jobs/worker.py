"""A worker: takes jobs until it is stopped."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from threading import Event
from typing import Any

from procrastinate import App
from prometheus_client import start_http_server

from service.jobs.app import make_app
from service.settings import Settings, SettingsError
from service.store.engine import make_engine
from service.store.queue import BALLPARKS_QUEUE, DEFAULT_QUEUE, WEBHOOKS_QUEUE
from service.store.watch import watch
from service.telemetry import tracing

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
    asyncio.run(_work(make_app(settings.database_url), settings.database_url, settings, until_idle))


async def _work(app: App, url: str, settings: Settings, until_idle: bool) -> None:
    engine = make_engine(url, "office_batch", pool_size=sum(AT_ONCE.values()))
    watch(engine, settings.slow_statement_ms)
    known = {"engine": engine, "settings": settings, "stopping": Event()}
    try:
        async with app.open_async():
            await (_until_idle if until_idle else _until_stopped)(app, known)
    finally:
        engine.dispose()
        tracing.flush()


async def _until_idle(app: App, known: Mapping[str, Any]) -> None:
    """The deliveries last, since other jobs make some; fits of ballparks are for workers that stay."""
    await _work_off(app, known, DEFAULT_QUEUE, wait=False)
    await _work_off(app, known, WEBHOOKS_QUEUE, wait=False)


async def _until_stopped(app: App, known: Mapping[str, Any]) -> None:
    """All until one ends, by a signal or a fault; the others then end what they have begun, and what takes
    minutes is told to leave off."""
    working = {asyncio.create_task(_work_off(app, known, queue, wait=True)) for queue in AT_ONCE}
    ended, running = await asyncio.wait(working, return_when=asyncio.FIRST_COMPLETED)
    known["stopping"].set()
    for task in running:
        task.cancel()
    await asyncio.gather(*running, return_exceptions=True)
    for task in ended:
        task.result()


async def _work_off(app: App, known: Mapping[str, Any], queue: str, wait: bool) -> None:
    """Signals are for the queue of all other jobs, whose end ends the rest."""
    await app.run_worker_async(
        queues=[queue],
        concurrency=AT_ONCE[queue],
        wait=wait,
        additional_context=dict(known),
        install_signal_handlers=queue == DEFAULT_QUEUE,
    )
