"""Quotes in the database: a quote, its revisions as written, their lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import func, insert, select, text, tuple_, update
from sqlalchemy.orm import Session, load_only

from service.pricing.model import Line
from service.store import rows
from service.store.models import PriceItem, PriceList, Quote, QuoteLine, QuoteRevision
from service.store.session import org_of

OPEN_STATES = ("draft", "issued")
HEAD_FIELDS = ("revision", "currency", "price_date", "valid_until", "net", "tax", "gross")

NUMBER = text("""
WITH counter AS (
    INSERT INTO quote_counters (org_id, year, last) VALUES (:org_id, :year, 1)
    ON CONFLICT (org_id, year) DO UPDATE SET last = quote_counters.last + 1
    RETURNING last
)
UPDATE quotes
SET number = concat_ws(
    '-', number_prefix, CAST(:year AS integer), lpad(last::text, greatest(4, length(last::text)), '0')
)
FROM counter, organisations
WHERE quotes.org_id = :org_id AND quotes.id = :id AND organisations.org_id = :org_id
RETURNING number
""")


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What one revision keeps: request, take-off, prices and what they rest on as JSON, and the versions."""

    request: Mapping[str, Any]
    takeoff: Mapping[str, Any]
    priced: Mapping[str, Any]
    basis: Mapping[str, Any]
    lines: Sequence[Line]
    price_date: date
    valid_until: date | None
    currency: str
    net: Decimal | None
    tax: Decimal | None
    gross: Decimal | None
    trade_edition: str
    labour_table_id: UUID | None
    terms_id: UUID | None
    engine_version: str


def add_quote(session: Session, snapshot: Snapshot, customer_id: UUID | None = None) -> Quote:
    """Store a draft with its first revision. It has no number yet: `give_number` comes last."""
    quote = rows.add(session, Quote, current_revision=1, customer_id=customer_id)
    _write_revision(session, quote.id, 1, snapshot)
    return quote


def add_revision(session: Session, quote: Quote, version: int | None, snapshot: Snapshot) -> Quote | None:
    """Store a further revision as the current one; None where the quote is not at `version` any more."""
    number = quote.current_revision + 1
    changed = rows.change(
        session, Quote, quote.id, version, current_revision=number, state="draft", prices_changed_at=None
    )
    if changed is None:
        return None
    session.execute(
        update(QuoteRevision)
        .where(
            QuoteRevision.org_id == quote.org_id,
            QuoteRevision.quote_id == quote.id,
            QuoteRevision.revision == number - 1,
        )
        .values(state="superseded")
    )
    _write_revision(session, quote.id, number, snapshot)
    return changed


def give_number(session: Session, quote: Quote, year: int) -> str:
    """Number a new quote, prefix-year-count. Do it last: the counter is locked from here to the commit."""
    number = session.scalar(NUMBER, {"org_id": org_of(session), "id": quote.id, "year": year})
    session.refresh(quote, ["number"])
    return str(number)


def _write_revision(session: Session, quote_id: UUID, revision: int, snapshot: Snapshot) -> None:
    fields = {name: getattr(snapshot, name) for name in snapshot.__slots__ if name != "lines"}
    rows.add(session, QuoteRevision, quote_id=quote_id, revision=revision, **fields)
    key = {"org_id": org_of(session), "quote_id": quote_id, "revision": revision}
    lines = [{**key, "position": position, **_line(line)} for position, line in enumerate(snapshot.lines, 1)]
    if lines:
        session.execute(insert(QuoteLine), lines)


def _line(line: Line) -> dict[str, Any]:
    return {
        "kind": line.kind,
        "role": line.role,
        "description": line.description,
        "supplier_id": _id(line.supplier),
        "product_id": _id(line.product),
        "price_list_id": _id(line.price_list),
        "packs": line.packs,
        "pack_size": line.pack_size,
        "quantity": line.quantity,
        "unit": line.unit,
        "cost": line.cost,
        "price": line.price,
        "amount": line.amount,
    }


def _id(value: str | None) -> UUID | None:
    return None if value is None else UUID(value)


def find_quote(session: Session, quote_id: UUID) -> Quote | None:
    return rows.find(session, Quote, quote_id)


def list_heads(
    session: Session, limit: int, after: rows.Cursor | None = None, state: str | None = None
) -> Sequence[tuple[Quote, QuoteRevision]]:
    """Up to `limit` quotes with their current revisions' figures, newest first, after the cursor."""
    current = (
        (QuoteRevision.org_id == Quote.org_id)
        & (QuoteRevision.quote_id == Quote.id)
        & (QuoteRevision.revision == Quote.current_revision)
    )
    query = select(Quote, QuoteRevision).join(QuoteRevision, current).where(Quote.org_id == org_of(session))
    if state is not None:
        query = query.where(Quote.state == state)
    if after is not None:
        query = query.where(tuple_(Quote.created_at, Quote.id) < after)
    without_snapshots = load_only(*(getattr(QuoteRevision, name) for name in HEAD_FIELDS), raiseload=True)
    newest = query.order_by(Quote.created_at.desc(), Quote.id.desc()).limit(limit)
    return [(quote, revision) for quote, revision in session.execute(newest.options(without_snapshots))]


def find_revision(session: Session, quote_id: UUID, revision: int) -> QuoteRevision | None:
    return session.get(QuoteRevision, (org_of(session), quote_id, revision))


def lines_of(session: Session, quote_id: UUID, revision: int) -> Sequence[QuoteLine]:
    """A revision's lines in their order."""
    query = select(QuoteLine).where(
        QuoteLine.org_id == org_of(session), QuoteLine.quote_id == quote_id, QuoteLine.revision == revision
    )
    return session.scalars(query.order_by(QuoteLine.position)).all()


def note_price_change(session: Session, price_list_id: UUID) -> int:
    """Mark the open quotes that hold a product whose price differs in this list; returns how many.

    Compared is the price of the same supplier's same pack at the number of packs that the quote buys. The
    mark is the list's time of activation, so marking twice changes nothing.
    """
    org_id = org_of(session)
    activated = select(PriceList.activated_at).where(
        PriceList.org_id == org_id, PriceList.id == price_list_id
    )
    when = activated.scalar_subquery()
    statement = (
        update(Quote)
        .where(
            Quote.org_id == org_id,
            Quote.state.in_(OPEN_STATES),
            func.coalesce(Quote.prices_changed_at < when, True),
            _holds_other_price(org_id, price_list_id),
        )
        .values(prices_changed_at=when)
    )
    marked = session.execute(statement.returning(Quote.id), execution_options={"synchronize_session": False})
    return len(marked.all())


def _holds_other_price(org_id: UUID, price_list_id: UUID) -> Any:
    new_price = (
        select(PriceItem.price)
        .where(
            PriceItem.org_id == org_id,
            PriceItem.price_list_id == price_list_id,
            PriceItem.product_id == QuoteLine.product_id,
            PriceItem.pack_size == QuoteLine.pack_size,
            PriceItem.min_packs <= QuoteLine.packs,
        )
        .order_by(PriceItem.min_packs.desc())
        .limit(1)
        .correlate(QuoteLine)
        .scalar_subquery()
    )
    return (
        select(QuoteLine.position)
        .join(
            PriceList,
            (PriceList.org_id == QuoteLine.org_id) & (PriceList.supplier_id == QuoteLine.supplier_id),
        )
        .where(
            QuoteLine.org_id == org_id,
            QuoteLine.quote_id == Quote.id,
            QuoteLine.revision == Quote.current_revision,
            PriceList.id == price_list_id,
            new_price != QuoteLine.cost,
        )
        .correlate(Quote)
        .exists()
    )
