"""What each worker does every minute, done once: jobs of killed workers are put back."""

from __future__ import annotations

import asyncio

from service.jobs.app import make_app
from service.jobs.rescue import rescue_stalled


def rescue(database_url: str, stalled_after_s: float = 30) -> None:
    async def run() -> None:
        app = make_app(database_url, connections=1)
        async with app.open_async():
            await rescue_stalled(app.job_manager, stalled_after_s)

    asyncio.run(run())
