"""Runs the migrations under the role that owns the tables.

The caller hands over an open connection in `config.attributes["connection"]` (service.store.migrate); run
from alembic's own command line, the address comes from the settings.
"""

from __future__ import annotations

import os

from alembic import context
from sqlalchemy import Connection

from service.settings import load_settings
from service.store.engine import make_engine
from service.store.models import Base


def run(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        transaction_per_migration=True,
    )
    with context.begin_transaction():
        context.run_migrations()


def run_by_settings() -> None:
    settings = load_settings(os.environ)
    url = settings.database_owner_url or settings.database_url
    if url is None:
        raise SystemExit("set DATABASE_URL, or migrate the embedded PostgreSQL by: python -m service migrate")
    engine = make_engine(url, "office_owner")
    with engine.connect() as connection:
        run(connection)
    engine.dispose()


if "connection" in context.config.attributes:
    run(context.config.attributes["connection"])
else:
    run_by_settings()
