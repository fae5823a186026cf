"""An invented office with quotes, and lists that change its prices. Works on a database of its own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import Engine, select
from sqlalchemy.orm import Session

from service.api.schemas.job import job_from
from service.api.schemas.quote import QuoteRequestSchema
from service.demo.run import demo_job
from service.demo.seed import ORGANISATION, product_ids
from service.quoting import price_lists
from service.quoting.basis import QuoteRequest
from service.quoting.price_lists import Consent
from service.quoting.quotes import Actor, make_quote
from service.quoting.quotes.issue import IssueOrder, issue
from service.quoting.repricing import steer
from service.quoting.repricing.begin import begin
from service.quoting.repricing.part import reprice_part
from service.quoting.tiles import tile_of
from service.store.models import PriceItem, PriceList, Repricing
from service.store.repricing.part import undone
from service.store.session import transaction

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)


def request(session: Session, some: slice = slice(None), **said: Any) -> QuoteRequest:
    """The demo's rooms or some of them."""
    job = demo_job(product_ids(session))
    body = {**job, "rooms": job["rooms"][some], **said}
    loaded = QuoteRequestSchema().load(body)
    asked = {name: loaded[name] for name in ("customer", "tax_date", "valid_days") if name in loaded}
    return QuoteRequest(job_from(loaded, tile_of(session), "us"), body, **asked)


def quotes(
    engine: Engine,
    rooms: Iterable[slice] = (slice(None),),
    issued: bool = False,
    now: datetime = NOW,
    **said: Any,
) -> list[UUID]:
    with transaction(engine, ORGANISATION) as session:
        made = [make_quote(session, request(session, some, **said), now) for some in rooms]
        if issued:
            for quote in made:
                texts = quote.takeoff.to_accept
                issue(session, quote.id, None, IssueOrder(accept_assumptions=texts), Actor(now))
        return [quote.id for quote in made]


def dearer(
    engine: Engine, percent: str = "10", products: Sequence[UUID] | None = None, day: date = date(2026, 3, 2)
) -> list[UUID]:
    """A newer list of each supplier, all products (or these) dearer by so much; the lists."""
    with transaction(engine, ORGANISATION) as session:
        return [
            follow(session, former, percent, products, day)
            for former in session.scalars(select(PriceList)).all()
        ]


def follow(
    session: Session, former: PriceList, percent: str, products: Sequence[UUID] | None, day: date
) -> UUID:
    items = session.scalars(select(PriceItem).where(PriceItem.price_list_id == former.id)).all()
    factor = 1 + Decimal(percent) / 100
    new = price_lists.add(
        session,
        {"supplier_id": former.supplier_id, "name": f"from {day}", "valid_from": day, "kind": "promotion"},
    )
    prices = [
        {
            "product_id": item.product_id,
            "pack_size": item.pack_size,
            "min_packs": item.min_packs,
            "price": (item.price * factor).quantize(Decimal("0.0001")),
        }
        for item in items
        if products is None or item.product_id in products
    ]
    if prices:
        price_lists.replace_items(session, new.id, None, prices)
        price_lists.activate(session, new.id, None, Consent(confirm_jumps=True))
    return new.id


def run(engine: Engine, mode: str = "revise", now: datetime = NOW, **said: Any) -> UUID:
    """A repricing, done here and now; its id."""
    with transaction(engine, ORGANISATION) as session:
        ordered = steer.order(
            session, steer.Order(mode, **{"price_date": date(2026, 3, 2), **said}), Actor(NOW)
        )
        run_id = ordered.id
    begin(engine, ORGANISATION, run_id, now)
    work_off(engine, run_id, now)
    return run_id


def work_off(engine: Engine, run_id: UUID, now: datetime = NOW) -> None:
    with transaction(engine, ORGANISATION) as session:
        parts = undone(session, found(session, run_id))
    for number in parts:
        reprice_part(engine, ORGANISATION, run_id, number, now)


def found(session: Session, run_id: UUID) -> Repricing:
    return session.get_one(Repricing, (ORGANISATION, run_id))
