from __future__ import annotations

import time

import pytest

from service.store.ids import new_id


def test_ids_are_version_7_as_rfc_9562_lays_them_out() -> None:
    before = time.time_ns() // 1_000_000
    made = new_id()
    after = time.time_ns() // 1_000_000
    assert made.version == 7
    assert made.variant == "specified in RFC 4122"
    assert before <= made.int >> 80 <= after


def test_the_example_of_rfc_9562_appendix_a6_has_our_layout(monkeypatch: pytest.MonkeyPatch) -> None:
    """unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0b01 and 0x8C4DC0C0C07398F."""
    bits = 0xCC3 << 64 | 0x18C4DC0C0C07398F
    monkeypatch.setattr("time.time_ns", lambda: 0x017F22E279B0 * 1_000_000)
    monkeypatch.setattr("os.urandom", lambda size: bits.to_bytes(size, "big"))
    assert str(new_id()).upper() == "017F22E2-79B0-7CC3-98C4-DC0C0C07398F"


def test_ids_differ() -> None:
    assert len({new_id() for _ in range(10_000)}) == 10_000
