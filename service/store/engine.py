"""Connections to PostgreSQL under one of the office's roles."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from sqlalchemy import Engine, create_engine
from sqlalchemy.engine import URL, make_url

Role = Literal["office_owner", "office_app", "office_batch"]

NETWORK: Mapping[str, int] = {
    "connect_timeout": 5,  # s
    "keepalives_idle": 30,  # s
    "keepalives_interval": 5,  # s
    "keepalives_count": 3,
    "tcp_user_timeout": 45_000,  # ms
}
"""How long a database server that has gone without a word is waited for (libpq's parameters)."""


def sqlalchemy_url(url: str) -> URL:
    """The address with the driver that this service uses, psycopg 3."""
    return make_url(url).set(drivername="postgresql+psycopg")


def libpq_url(url: str) -> str:
    """The address as PostgreSQL's own library reads it."""
    return make_url(url).set(drivername="postgresql").render_as_string(hide_password=False)


def startup_options(role: Role, statement_timeout_s: int = 0) -> str:
    """Start-up options that put a connection under `role`.

    Being start-up values they are what RESET ROLE goes back to: even a privileged login works with the role's
    rights only. `statement_timeout_s` 0 sets no limit.
    """
    given = {
        "role": role,
        "search_path": "public" if role == "office_owner" else "public,jobs",
        "timezone": "UTC",
        "statement_timeout": f"{statement_timeout_s}s",
    }
    return " ".join(f"-c {name}={value}" for name, value in given.items())


def make_engine(
    url: str,
    role: Role = "office_app",
    pool_size: int = 5,
    statement_timeout_s: int = 0,
    pool_timeout_s: float = 30,
) -> Engine:
    """An engine whose every connection works under `role`; connections are tried before use.

    Whoever finds all of them at work waits `pool_timeout_s` for one, then gets sqlalchemy.exc.TimeoutError.
    """
    return create_engine(
        sqlalchemy_url(url),
        pool_size=pool_size,
        pool_timeout=pool_timeout_s,
        pool_pre_ping=True,
        connect_args={**NETWORK, "options": startup_options(role, statement_timeout_s)},
    )
