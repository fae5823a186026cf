from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import Engine

from service.demo.seed import seed
from service.settings import load_settings
from service.store.engine import make_engine


@pytest.fixture
def batch(live_engine: Engine, database_url: str) -> Iterator[Engine]:
    """A worker's engine, on the seeded invented office."""
    seed(load_settings({"DATABASE_URL": database_url}), "a key of tests")
    engine = make_engine(database_url, "office_batch")
    yield engine
    engine.dispose()
