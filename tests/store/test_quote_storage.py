"""Prices read back as they were reckoned, also by way of the tables of before revision 0008."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from uuid import UUID

import pytest
from sqlalchemy import Engine, text
from sqlalchemy.orm import Session

from service.api.schemas.job import job_from
from service.api.schemas.quote import QuoteRequestSchema
from service.demo.run import demo_job
from service.demo.seed import ORGANISATION, product_ids, seed
from service.pricing.model import Priced
from service.quoting.basis import QuoteRequest
from service.quoting.quotes import Actor, get_quote, make_quote
from service.quoting.quotes.revise import revise
from service.quoting.snapshot import from_json, to_json
from service.quoting.tiles import tile_of
from service.settings import load_settings
from service.store.engine import make_engine
from service.store.migrate import downgrade, upgrade
from service.store.session import transaction

NOW = datetime(2026, 3, 2, 12, tzinfo=UTC)
SHARED = text(
    "SELECT count(DISTINCT takeoff_id), count(DISTINCT conditions_id), count(*) FROM quote_revisions"
)
FORMER = text("SELECT priced, basis, takeoff, request FROM quote_revisions WHERE revision = 1")


@pytest.fixture
def own_url(make_database: Callable[..., str]) -> str:
    """A database of its own, since its tables are taken down and put up again."""
    return make_database("former_quotes")


@pytest.fixture
def office(own_url: str) -> Iterator[Engine]:
    seed(load_settings({"DATABASE_URL": own_url}), "a key")
    engine = make_engine(own_url)
    yield engine
    engine.dispose()


def test_a_quote_reads_back_the_same_also_from_the_former_tables(office: Engine, own_url: str) -> None:
    with transaction(office, ORGANISATION) as session:
        request = demo_request(session)
        made = make_quote(session, request, NOW)
        again = revise(session, made.id, None, request, Actor(NOW))
    assert made.priced is not None
    before = reading(office, made.id)
    assert before == as_text(made.priced)
    assert from_json(json.loads(before), Priced) == made.priced
    with transaction(office, ORGANISATION) as session:
        assert session.execute(SHARED).one() == (1, 1, 2)
        basis = dict(again.versions)
    office.dispose()
    downgrade(own_url, "0007")
    with transaction(office, ORGANISATION) as session:
        priced, kept, takeoff, body = session.execute(FORMER).one()
    assert from_json(priced, Priced) == made.priced
    assert takeoff == json.loads(json.dumps(to_json(made.takeoff)))
    assert set(kept) >= {"labour_table", "terms", "own_values", "exchange_rates", "versions"}
    assert body == request.body
    office.dispose()
    upgrade(own_url)
    assert reading(office, made.id) == before
    with transaction(office, ORGANISATION) as session:
        assert dict(get_quote(session, made.id, 2).versions) == basis


def demo_request(session: Session) -> QuoteRequest:
    body = {name: said for name, said in demo_job(product_ids(session)).items() if name != "customer"}
    loaded = QuoteRequestSchema().load(body)
    return QuoteRequest(job_from(loaded, tile_of(session), "us"), body)


def reading(engine: Engine, quote_id: UUID) -> str:
    with transaction(engine, ORGANISATION) as session:
        return as_text(get_quote(session, quote_id, 1).priced)


def as_text(priced: Priced | None) -> str:
    """With every decimal's digits, where 1.50 == 1.5 would hide that they changed."""
    return json.dumps(to_json(priced), sort_keys=True)
