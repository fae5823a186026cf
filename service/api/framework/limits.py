"""How often a key and an address may ask: fixed windows of a minute, shared by processes through Redis.

Without Redis each process counts for itself and lets through its share. Headers as in
draft-ietf-httpapi-ratelimit-headers-10.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from ipaddress import IPv6Address, ip_address
from threading import Lock
from typing import cast

import structlog
from flask import Flask, Response, current_app, g
from limits import RateLimitItemPerMinute
from limits.errors import StorageError
from limits.storage import Storage, storage_from_string

from service.api.framework.problems import Problem
from service.settings import Settings

log = structlog.get_logger()
WINDOW_S = 60
REDIS_PATIENCE_S = 0.3
"""A Redis that hangs would hold up each request, with its thread and its connection, for its own 5 s."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What is left of a quota after a request, and in how many seconds it is whole again."""

    name: str
    quota: int
    allowed: bool
    left: int
    reset_s: int

    @property
    def policy(self) -> str:
        return f'"{self.name}";q={self.quota};w={WINDOW_S}'

    @property
    def limit(self) -> str:
        return f'"{self.name}";r={self.left};t={self.reset_s}'


class OwnCounts:
    """What this process has let through since the minute began; all is forgotten when the next one begins."""

    def __init__(self, clock: Callable[[], float] = time.time) -> None:
        self._clock, self._lock = clock, Lock()
        self._window, self._counts = 0, dict[tuple[str, str], int]()

    def hit(self, name: str, quota: int, who: str) -> Standing:
        now = self._clock()
        window, past = divmod(now, WINDOW_S)
        with self._lock:
            if window != self._window:
                self._window, self._counts = int(window), {}
            count = self._counts[name, who] = self._counts.get((name, who), 0) + 1
        return Standing(
            name, quota, count <= quota, max(0, quota - count), max(1, math.ceil(WINDOW_S - past))
        )


class Limits:
    """The quotas of one process or, through Redis, of all."""

    def __init__(self, settings: Settings) -> None:
        own_share = max(1, settings.processes)
        self._alone = OwnCounts()
        self._shared: Storage | None = None
        if settings.rate_limit_redis_url is not None:
            waiting = {"socket_timeout": REDIS_PATIENCE_S, "socket_connect_timeout": REDIS_PATIENCE_S}
            url = settings.rate_limit_redis_url
            self._shared = cast(Storage, storage_from_string(url, wrap_exceptions=True, **waiting))
        self._quotas = {
            "address": (settings.ballparks_per_address, own_share),
            "key": (settings.ballparks_per_key, own_share),
            "requests": (settings.requests_per_key, own_share),
        }

    def hit(self, name: str, who: str, own_quota: int | None = None) -> Standing:
        """Count one request of `who` against the quota of this name, or against its own."""
        usual, processes = self._quotas[name]
        quota = own_quota or usual
        if self._shared is not None:
            try:
                return _hit(self._shared, name, quota, who)
            except StorageError:
                log.warning("rate-limits", detail="Redis does not answer; this process counts alone")
        return self._alone.hit(name, math.ceil(quota / processes), who)


def install(app: Flask, settings: Settings) -> None:
    app.extensions["limits"] = Limits(settings)


def count(name: str, who: str, own_quota: int | None = None) -> None:
    """Count the current request, whose answer will tell the standing; 429 where the quota is used up."""
    limits = cast(Limits, current_app.extensions["limits"])
    standing = limits.hit(name, who, own_quota)
    g.setdefault("standings", []).append(standing)
    if not standing.allowed:
        whose = "address" if name == "address" else "key"
        after = {"Retry-After": str(standing.reset_s)}
        raise Problem(
            429, f"More requests than this {whose} may send in a minute.", "too-many", headers=after
        )


@lru_cache(maxsize=4096)
def counted_as(address: str) -> str:
    """The address, or of IPv6 its network of 64 bits, within which a host changes its own as it likes
    (RFC 4291, 2.5.4; RFC 8981)."""
    try:
        found = ip_address(address)
    except ValueError:  # none, as over a Unix socket
        return address
    if not isinstance(found, IPv6Address):
        return address
    return str(found.ipv4_mapped or IPv6Address(int(found) >> 64 << 64))


def tell(response: Response) -> None:
    """The headers RateLimit and RateLimit-Policy, where the request was counted."""
    standings: list[Standing] = g.get("standings", [])
    if standings:
        response.headers["RateLimit-Policy"] = ", ".join(standing.policy for standing in standings)
        response.headers["RateLimit"] = ", ".join(standing.limit for standing in standings)


def _hit(shared: Storage, name: str, quota: int, who: str) -> Standing:
    item = RateLimitItemPerMinute(quota, namespace="floors")
    key = item.key_for(name, who)
    count = shared.incr(key, item.get_expiry())
    reset_s = math.ceil(shared.get_expiry(key) - time.time())
    return Standing(name, quota, count <= quota, max(0, quota - count), max(1, reset_s))
