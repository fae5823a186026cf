"""The values of delivery.toml."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import timedelta
from importlib import resources
from typing import Any


@dataclass(frozen=True, slots=True)
class Values:
    """How messages are delivered; see the file for units and sources."""

    retry_after_s: tuple[float, ...]
    jitter: float
    time_limit_s: float
    disable_after: timedelta
    overlap_hours: int
    ports: frozenset[int]


def _read() -> Values:
    text = (resources.files("service.quoting.webhooks") / "delivery.toml").read_text("utf-8")
    told: dict[str, Any] = {name: row["value"] for name, row in tomllib.loads(text).items()}
    return Values(
        retry_after_s=tuple(told["retry_after_s"]),
        jitter=told["jitter"],
        time_limit_s=told["time_limit_s"],
        disable_after=timedelta(days=told["disable_after_days"]),
        overlap_hours=told["overlap_hours"],
        ports=frozenset(told["ports"]),
    )


VALUES = _read()
