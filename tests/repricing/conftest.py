from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import Engine

from service.store.engine import make_engine


@pytest.fixture
def batch(invented_office: str, database_url: str) -> Iterator[Engine]:
    """A worker's engine, on the seeded invented office."""
    engine = make_engine(database_url, "office_batch")
    yield engine
    engine.dispose()
