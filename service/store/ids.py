"""Ids made in the application: UUID version 7 (RFC 9562, 5.7), so that new rows lie together in an index.

What is stored once for each content has an id of version 8 (5.8) made from it.
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from typing import Any
from uuid import UUID


def new_id() -> UUID:
    """48 bits of milliseconds, then 74 random bits around the version and the variant."""
    milliseconds = time.time_ns() // 1_000_000
    random = int.from_bytes(os.urandom(10), "big")
    return _of_version(7, (milliseconds & 0xFFFF_FFFF_FFFF) << 80 | random)


def content_id(value: Any) -> UUID:
    """The first 122 bits of the SHA-256 of a JSON value's one text with sorted names."""
    text = json.dumps(value, sort_keys=True, separators=(",", ":"))
    return _of_version(8, int.from_bytes(hashlib.sha256(text.encode()).digest()[:16], "big"))


def _of_version(version: int, bits: int) -> UUID:
    value = bits & ~(0xF << 76) | version << 76
    return UUID(int=value & ~(0x3 << 62) | 0x2 << 62)
