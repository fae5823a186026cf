"""The queue's application: its tasks and its connections to the schema `jobs`."""

from __future__ import annotations

from procrastinate import App, PsycopgConnector

from service.jobs.tasks import register
from service.store.engine import libpq_url, startup_options


def make_app(url: str, connections: int = 8) -> App:
    """An app on this database under the role office_batch; open it before use."""
    connector = PsycopgConnector(
        conninfo=libpq_url(url),
        kwargs={"options": startup_options("office_batch")},
        min_size=1,
        max_size=connections,
    )
    app = App(connector=connector)
    register(app)
    return app
