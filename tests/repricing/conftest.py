from __future__ import annotations

import pytest
from sqlalchemy import Engine


@pytest.fixture
def batch(invented_office: str, batch: Engine) -> Engine:
    """A worker's engine, on the seeded invented office."""
    return batch
