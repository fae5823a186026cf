"""Lists of quotes: newest first, behind a cursor, by what the office looks for."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, case, func, select, tuple_
from sqlalchemy.orm import Session, load_only

from service.store import rows
from service.store.models import Quote, QuoteEvent, QuoteLine, QuoteRevision, QuoteTakeoff
from service.store.session import org_of

HEAD_FIELDS = ("revision", "currency", "price_date", "valid_until", "net", "tax", "gross")

STANDING = case(
    (Quote.state == "draft", Quote.current_revision),
    else_=func.coalesce(Quote.offered_revision, Quote.current_revision),
)
"""`Quote.standing_revision` in SQL."""
STANDS = (
    (QuoteRevision.org_id == Quote.org_id)
    & (QuoteRevision.quote_id == Quote.id)
    & (QuoteRevision.revision == STANDING)
)
TAKEN = (QuoteTakeoff.org_id == QuoteRevision.org_id) & (QuoteTakeoff.id == QuoteRevision.takeoff_id)
LAST_DAY = case((Quote.state == "draft", QuoteRevision.valid_until), else_=Quote.valid_until)
"""Until when the standing revision holds; a draft's is what it would be if issued on the day it was made."""
OUT_OF_DRAFT = (
    select(QuoteEvent.id)
    .where(
        QuoteEvent.org_id == Quote.org_id,
        QuoteEvent.quote_id == Quote.id,
        QuoteEvent.revision == Quote.current_revision,
        QuoteEvent.kind != "draft",
    )
    .correlate(Quote)
    .exists()
)
DRAFT = case((~OUT_OF_DRAFT, Quote.current_revision))
"""The newest revision while it is a draft, alone or beside an offer, else NULL."""


@dataclass(frozen=True, slots=True)
class Filter:
    """What is looked for; None asks nothing. Times are from (with) and until (without)."""

    state: str | None = None
    customer_id: UUID | None = None
    parent_id: UUID | None = None
    product_id: UUID | None = None
    created_from: datetime | None = None
    created_before: datetime | None = None
    valid_from: date | None = None
    valid_to: date | None = None


def list_heads(
    session: Session, limit: int, after: rows.Cursor | None = None, wanted: Filter | None = None
) -> Sequence[tuple[Quote, QuoteRevision, int | None]]:
    """Up to `limit` quotes with their standing revisions' figures and the number of the draft, if any.

    Newest first, after the cursor.
    """
    query = (
        select(Quote, QuoteRevision, DRAFT).join(QuoteRevision, STANDS).where(Quote.org_id == org_of(session))
    )
    query = query.where(*_conditions(wanted or Filter()))
    if after is not None:
        query = query.where(tuple_(Quote.created_at, Quote.id) < after)
    without_snapshots = load_only(*(getattr(QuoteRevision, name) for name in HEAD_FIELDS), raiseload=True)
    newest = query.order_by(Quote.created_at.desc(), Quote.id.desc()).limit(limit)
    found = session.execute(newest.options(without_snapshots))
    return [(quote, revision, draft) for quote, revision, draft in found]


def labour_of(session: Session, quote_ids: Collection[UUID]) -> Mapping[UUID, Sequence[Mapping[str, Any]]]:
    """The hours in the take-offs of quotes' standing revisions, by quote, of those that are there."""
    query = (
        select(Quote.id, QuoteTakeoff.takeoff["labour"])
        .join(QuoteRevision, STANDS)
        .join(QuoteTakeoff, TAKEN)
        .where(Quote.org_id == org_of(session), Quote.id.in_(quote_ids))
    )
    found = session.execute(query).all()
    return {row[0]: row[1] for row in found}


def _conditions(wanted: Filter) -> list[ColumnElement[bool]]:
    asked = ((getattr(wanted, name), condition) for name, condition in CONDITIONS.items())
    return [condition(value) for value, condition in asked if value is not None]


def _holds(product_id: UUID) -> ColumnElement[bool]:
    """Whether a line of the standing revision buys the product."""
    return (
        select(QuoteLine.position)
        .where(
            QuoteLine.org_id == Quote.org_id,
            QuoteLine.quote_id == Quote.id,
            QuoteLine.revision == STANDING,
            QuoteLine.product_id == product_id,
        )
        .correlate(Quote)
        .exists()
    )


CONDITIONS: Mapping[str, Callable[[Any], ColumnElement[bool]]] = {
    "state": lambda state: Quote.state == state,
    "customer_id": lambda customer_id: Quote.customer_id == customer_id,
    "parent_id": lambda parent_id: Quote.parent_id == parent_id,
    "product_id": _holds,
    "created_from": lambda moment: Quote.created_at >= moment,
    "created_before": lambda moment: Quote.created_at < moment,
    "valid_from": lambda day: day <= LAST_DAY,
    "valid_to": lambda day: day >= LAST_DAY,
}
