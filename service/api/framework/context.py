"""What one request works with: the application's parts, its session, its caller."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import cast

from flask import Flask, current_app, g
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from service.quoting.keys import HeldKey
from service.settings import Settings
from service.store.session import open_session


def utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Parts:
    """What the application was put together from."""

    settings: Settings
    engine: Engine
    now: Callable[[], datetime] = utc_now


def install(app: Flask, parts: Parts) -> None:
    app.extensions["parts"] = parts


def parts() -> Parts:
    return cast(Parts, current_app.extensions["parts"])


def now() -> datetime:
    return parts().now()


def session() -> Session:
    """The session of the running operation, bound to the caller's organisation."""
    return cast(Session, g.session)


def caller() -> HeldKey:
    """Who calls: the key in use, with its organisation and scopes."""
    return cast(HeldKey, g.caller)


@contextmanager
def request_session() -> Iterator[Session]:
    """The one session of a request; whatever was not committed is rolled back."""
    with open_session(parts().engine) as opened:
        g.session = opened
        try:
            yield opened
        finally:
            g.pop("session", None)
