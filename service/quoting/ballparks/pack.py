"""The models of all regions in one file."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np


def packed(models: Mapping[str, bytes], basis: str) -> bytes:
    """`basis` is the fingerprint of what they were fitted to."""
    file = io.BytesIO()
    named: dict[str, Any] = {
        f"region/{region}": np.frombuffer(kept, np.uint8) for region, kept in models.items()
    }
    np.savez(file, basis=np.array(basis), **named)
    return file.getvalue()


def unpacked(kept: bytes) -> tuple[dict[str, bytes], str]:
    arrays = np.load(io.BytesIO(kept), allow_pickle=False)
    named = {name: arrays[name] for name in arrays.files}
    basis = str(named.pop("basis"))
    return {name.removeprefix("region/"): array.tobytes() for name, array in named.items()}, basis
