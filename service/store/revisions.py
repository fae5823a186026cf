"""What one revision of a quote keeps, and how it is written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import insert, select
from sqlalchemy.dialects import postgresql
from sqlalchemy.orm import Session

from service.store import rows
from service.store.ids import content_id
from service.store.models import QuoteConditions, QuoteLine, QuoteOption, QuoteRevision, QuoteTakeoff
from service.store.session import org_of

OF_TAKEOFF = ("request", "takeoff", "basis")
OF_REVISION = (
    "rest",
    "price_date",
    "valid_until",
    "currency",
    "trade_edition",
    "labour_table_id",
    "terms_id",
    "engine_version",
    "customer_id",
)


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What one revision keeps: what was taken off, by what conditions it was priced, the versions of both.

    `lines` and `options` are the columns of each of them, `sums` those of its totals, None each where there
    is no price.
    """

    request: Mapping[str, Any]
    takeoff: Mapping[str, Any]
    basis: Mapping[str, Any]
    conditions: Mapping[str, Any]
    lines: Sequence[Mapping[str, Any]]
    sums: Mapping[str, Decimal | None]
    rest: Mapping[str, Any]
    price_date: date
    valid_until: date | None
    currency: str
    trade_edition: str
    labour_table_id: UUID | None
    terms_id: UUID | None
    engine_version: str
    customer_id: UUID | None = None
    options: Sequence[Mapping[str, Any]] = ()


def write_revision(session: Session, quote_id: UUID, revision: int, snapshot: Snapshot) -> QuoteRevision:
    """A revision with its lines and options, and what it points at."""
    taken = _taken(session, quote_id, revision - 1, snapshot)
    written = rows.add(
        session,
        QuoteRevision,
        quote_id=quote_id,
        revision=revision,
        takeoff_id=taken.id,
        conditions_id=keep_conditions(session, snapshot.conditions),
        **{name: getattr(snapshot, name) for name in OF_REVISION},
        **snapshot.sums,
    )
    key = {"org_id": org_of(session), "quote_id": quote_id, "revision": revision}
    lines = [{**key, "position": position, **line} for position, line in enumerate(snapshot.lines, 1)]
    if lines:
        session.execute(insert(QuoteLine), lines, execution_options={"render_nulls": True})
    options = [{**key, "position": n, **option} for n, option in enumerate(snapshot.options, 1)]
    if options:
        session.execute(insert(QuoteOption), options)
    return written.rests_on(taken, snapshot.conditions)


def _taken(session: Session, quote_id: UUID, before: int, snapshot: Snapshot) -> QuoteTakeoff:
    """The take-off of the revision before, where it is the same; else a new one."""
    new = {name: getattr(snapshot, name) for name in OF_TAKEOFF}
    held = _same_takeoff(session, quote_id, before, new) if before else None
    return held or rows.add(session, QuoteTakeoff, quote_id=quote_id, **new)


def _same_takeoff(
    session: Session, quote_id: UUID, revision: int, new: Mapping[str, Any]
) -> QuoteTakeoff | None:
    same = (
        select(QuoteTakeoff)
        .join(QuoteRevision, QuoteRevision.takeoff_id == QuoteTakeoff.id)
        .where(QuoteTakeoff.org_id == org_of(session), QuoteRevision.org_id == org_of(session))
        .where(QuoteRevision.quote_id == quote_id, QuoteRevision.revision == revision)
        .where(*(getattr(QuoteTakeoff, name) == value for name, value in new.items()))
    )
    return session.scalar(same)


def keep_conditions(session: Session, body: Mapping[str, Any]) -> UUID:
    """The id of these conditions, stored unless they are."""
    row_id = content_id(body)
    row = {"org_id": org_of(session), "id": row_id, "body": dict(body)}
    session.execute(postgresql.insert(QuoteConditions).values(row).on_conflict_do_nothing())
    return row_id
