"""Sessions bound to one organisation.

Row-level security shows a transaction the rows of the organisation named by the setting `app.org`, and the
API key whose hash is `app.key_hash` or whose origins hold `app.origin`; what it changes is put on record
under the key named by `app.key`. All are set at the begin of each transaction, for that transaction only: a
setting of the connection would go with it to the next user of the pool.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Engine, Select, event, func, select
from sqlalchemy.orm import Session, SessionTransaction

SETTINGS = ("app.org", "app.key_hash", "app.key", "app.origin")


class OfficeSession(Session):
    """A session that names its organisation to the database at the begin of each transaction."""


def open_session(bind: Engine | Connection, org_id: UUID | None = None, **options: Any) -> OfficeSession:
    """A session for one organisation, or for none yet; unbound sessions see no tenant's rows."""
    session = OfficeSession(bind=bind, expire_on_commit=False, **options)
    session.info.update(dict.fromkeys(SETTINGS, ""))
    session.info["app.org"] = "" if org_id is None else str(org_id)
    return session


@contextmanager
def transaction(bind: Engine | Connection, org_id: UUID | None = None) -> Iterator[OfficeSession]:
    """A session in one transaction: committed on leaving, rolled back on an error."""
    with open_session(bind, org_id) as session, session.begin():
        yield session


def bind_org(session: Session, org_id: UUID) -> None:
    """Name the organisation of this session, in the running transaction too."""
    _bind(session, {"app.org": str(org_id)})


def bind_caller(session: Session, org_id: UUID, key_id: UUID) -> None:
    """Name the organisation, and the API key under which what this session changes is put on record."""
    _bind(session, {"app.org": str(org_id), "app.key": str(key_id)})


def bind_key_hash(session: Session, key_hash: str) -> None:
    """Let this session see the API key with this hash, whichever organisation it belongs to."""
    _bind(session, {"app.key_hash": key_hash})


def bind_key(session: Session, key_id: UUID) -> None:
    """Put what this session changes on record under this API key."""
    _bind(session, {"app.key": str(key_id)})


def bind_origin(session: Session, origin: str) -> None:
    """Let this session see the publishable API keys that name this origin, of whichever organisation."""
    _bind(session, {"app.origin": origin})


def org_of(session: Session) -> UUID:
    """The organisation that this session is bound to; KeyError where it is bound to none."""
    org = session.info.get("app.org")
    if not org:
        raise KeyError("this session is bound to no organisation")
    return UUID(org)


def _bind(session: Session, settings: Mapping[str, str]) -> None:
    session.info.update(settings)
    if session.in_transaction():
        session.execute(_set(settings))


def _set(settings: Mapping[str, str]) -> Select[Any]:
    return select(*(func.set_config(name, value, True) for name, value in settings.items()))


@event.listens_for(OfficeSession, "after_begin")
def _name_organisation(session: Session, transaction: SessionTransaction, connection: Connection) -> None:
    if not transaction.nested:
        connection.execute(_set({name: session.info[name] for name in SETTINGS}))
