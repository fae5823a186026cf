"""A worker: takes jobs until it is stopped."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import Any

from procrastinate import App

from service.jobs.app import make_app
from service.settings import Settings, SettingsError
from service.store.engine import make_engine
from service.store.queue import BALLPARKS_QUEUE, DEFAULT_QUEUE, WEBHOOKS_QUEUE

DELIVERIES_AT_ONCE = 4


def run_worker(settings: Settings, until_idle: bool = False) -> None:
    """Work off the queue, until stopped by a signal or (`until_idle`) until no job waits.

    One job at a time, and beside it a few deliveries to webhooks, which mostly wait for others, and one fit
    of ballparks: for more, run more workers.
    """
    if settings.database_url is None:
        raise SettingsError("DATABASE_URL must be set for a worker")
    asyncio.run(_work(make_app(settings.database_url), settings.database_url, settings, until_idle))


async def _work(app: App, url: str, settings: Settings, until_idle: bool) -> None:
    engine = make_engine(url, "office_batch", pool_size=2 + DELIVERIES_AT_ONCE)
    known = {"engine": engine, "settings": settings}
    try:
        async with app.open_async():
            await (_until_idle if until_idle else _until_stopped)(app, known)
    finally:
        engine.dispose()


async def _until_idle(app: App, known: Mapping[str, Any]) -> None:
    """The deliveries last, since other jobs make some; fits of ballparks are for workers that stay."""
    await _jobs(app, known, wait=False)
    await _deliveries(app, known, wait=False)


async def _until_stopped(app: App, known: Mapping[str, Any]) -> None:
    """All until one ends, by a signal or a fault; the others then end what they have begun."""
    queues = {asyncio.create_task(work(app, known)) for work in (_jobs, _deliveries, _fits)}
    ended, running = await asyncio.wait(queues, return_when=asyncio.FIRST_COMPLETED)
    for task in running:
        task.cancel()
    await asyncio.gather(*running, return_exceptions=True)
    for task in ended:
        task.result()


async def _jobs(app: App, known: Mapping[str, Any], wait: bool = True) -> None:
    await app.run_worker_async(
        queues=[DEFAULT_QUEUE], concurrency=1, wait=wait, additional_context=dict(known)
    )


async def _deliveries(app: App, known: Mapping[str, Any], wait: bool = True) -> None:
    await app.run_worker_async(
        queues=[WEBHOOKS_QUEUE],
        concurrency=DELIVERIES_AT_ONCE,
        wait=wait,
        additional_context=dict(known),
        install_signal_handlers=False,
    )


async def _fits(app: App, known: Mapping[str, Any], wait: bool = True) -> None:
    await app.run_worker_async(
        queues=[BALLPARKS_QUEUE],
        concurrency=1,
        wait=wait,
        additional_context=dict(known),
        install_signal_handlers=False,
    )
