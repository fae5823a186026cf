"""A worker: takes jobs until it is stopped."""

from __future__ import annotations

import asyncio

from procrastinate import App

from service.jobs.app import make_app
from service.settings import Settings, SettingsError
from service.store.engine import make_engine


def run_worker(settings: Settings, until_idle: bool = False) -> None:
    """Work off the queue, until stopped by a signal or (`until_idle`) until no job waits.

    One job at a time: for more, run more workers.
    """
    if settings.database_url is None:
        raise SettingsError("DATABASE_URL must be set for a worker")
    asyncio.run(_work(make_app(settings.database_url), settings.database_url, settings, until_idle))


async def _work(app: App, url: str, settings: Settings, until_idle: bool) -> None:
    engine = make_engine(url, "office_batch", pool_size=2)
    try:
        async with app.open_async():
            known = {"engine": engine, "settings": settings}
            await app.run_worker_async(concurrency=1, wait=not until_idle, additional_context=known)
    finally:
        engine.dispose()
