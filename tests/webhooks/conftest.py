from __future__ import annotations

from collections.abc import Iterator

import pytest
from sqlalchemy import Engine

from service.store.engine import make_engine
from tests.webhooks.receiver import Receiver, receiving


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as found:
        yield found


@pytest.fixture
def batch(database_url: str, live_engine: Engine) -> Iterator[Engine]:
    """The engine that the queue's worker works with."""
    engine = make_engine(database_url, "office_batch", pool_size=2)
    yield engine
    engine.dispose()
