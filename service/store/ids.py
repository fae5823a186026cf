"""Ids made in the application: UUID version 7 (RFC 9562, 5.7), so that new rows lie together in an index."""

from __future__ import annotations

import os
import time
from uuid import UUID


def new_id() -> UUID:
    """48 bits of milliseconds, then 74 random bits around the version and the variant."""
    milliseconds = time.time_ns() // 1_000_000
    random = int.from_bytes(os.urandom(10), "big")
    value = (milliseconds & 0xFFFF_FFFF_FFFF) << 80 | random
    value = value & ~(0xF << 76) | 0x7 << 76
    return UUID(int=value & ~(0x3 << 62) | 0x2 << 62)
