"""Models fitted anew when what they rest on has changed; the ones in force answer meanwhile."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from sqlalchemy import Engine as Database
from sqlalchemy.orm import Session

from service.ballpark.distributions import distributions
from service.ballpark.fit import fitted
from service.ballpark.generate import rooms
from service.ballpark.sample import Sample
from service.pricing.model import PriceBook, Terms
from service.quoting import office
from service.quoting.ballparks.engine import USUAL, Engine, priced
from service.quoting.ballparks.rooms import job_of
from service.quoting.basis import Basis, QuoteRequest, basis_for
from service.quoting.errors import QuotingError
from service.quoting.quotes.make import ENGINE_VERSION
from service.quoting.snapshot import fingerprint, to_json
from service.store import ballparks as store
from service.store import taxes
from service.store.prices import load_price_book
from service.store.queue import REFRESH_BALLPARKS, enqueue
from service.store.session import transaction
from service.trade.values import TradeValues

ROOMS = 600
"""Of each kind, which some minutes of one processor price; fitted to fewer the ranges grow wider."""
SEED = 1
MOST_REGIONS = 12
AN_ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def enqueue_due(database: Database, only: UUID | None = None) -> int:
    """Queue a look at every organisation that has a key for ballparks, or at one if it has; how many were not
    queued yet."""
    with transaction(database) as session:
        offices = [org for org in store.offices(session) if only in (None, org)]
        return sum(
            enqueue(session, REFRESH_BALLPARKS, {"org_id": str(org)}, queueing_lock=f"ballparks/{org}")
            for org in offices
        )


def refresh(
    database: Database,
    org_id: UUID,
    now: datetime,
    count: int = ROOMS,
    going_on: Callable[[], None] = lambda: None,
) -> bool:
    """Fit the organisation's models unless those in force rest on the same; whether it did.

    An organisation that cannot quote yet (no terms, no rates) is passed over. Pricing thousands of rooms
    takes minutes and happens outside any transaction.
    """
    with transaction(database, org_id) as session:
        try:
            engine = engine_for(session, now)
        except QuotingError:
            return False
        basis = basis_of(engine)
        if basis in store.bases(session):
            return False
    samples = drawn(engine, count, SEED, going_on)
    try:
        models = fitted_models(samples, going_on)
    except ValueError:  # too few of the rooms can be bought: an office without a price for tile
        return False
    with transaction(database, org_id) as session:
        store.replace_models(session, models, engine.basis.day, engine.basis.currency, basis)
    return True


def engine_for(session: Session, now: datetime) -> Engine:
    """What a quote made now on the default terms rests on, with the taxes of each region."""
    standards = office.organisation(session).standards
    some = next(iter(rooms(next(iter(distributions().kinds)), 1, SEED)))
    basis = basis_for(session, QuoteRequest(job_of(some, standards), {}), now)  # type: ignore[arg-type]
    book = load_price_book(session, store.roles(session), basis.day, basis.currency)
    return Engine(standards, basis, book, _regions(session, basis))  # type: ignore[arg-type]


def drawn(engine: Engine, count: int, seed: int, going_on: Callable[[], None]) -> dict[str, Sample]:
    """`count` rooms of every kind, priced; `going_on` is called after each and may end it."""
    return {kind: priced(engine, rooms(kind, count, seed), going_on) for kind in distributions().kinds}


def fitted_models(
    samples: Mapping[str, Sample], going_on: Callable[[], None] = lambda: None
) -> dict[str, bytes]:
    """A model for each region."""
    regions = next(iter(samples.values())).regions
    return {region: fitted(samples, place, going_on).to_bytes() for place, region in enumerate(regions)}


def basis_of(engine: Engine) -> str:
    """The fingerprint of all that prices follow from but for the day itself.

    Ids count for nothing: the same catalogue in another database is the same basis.
    """
    basis, told = engine.basis, _Told(engine.book)
    return fingerprint(
        [
            distributions().version,
            ENGINE_VERSION,
            _values(basis.values),
            told(basis.labour),
            told(dict(engine.regions)),
            told(basis.buying),
            *(
                sorted(map(told, of))
                for of in (engine.book.suppliers, engine.book.products, engine.book.offers)
            ),
        ]
    )


class _Told:
    """Plain data as JSON, with what they are in place of the ids of suppliers and products, and no others."""

    def __init__(self, book: PriceBook) -> None:
        suppliers = {each.id: repr(replace(each, id="")) for each in book.suppliers}
        products = {each.id: repr(replace(each, id="")) for each in book.products}
        self._named = suppliers | products

    def __call__(self, value: object) -> str:
        text = json.dumps(to_json(value), sort_keys=True)
        return AN_ID.sub(lambda found: self._named.get(found[0], ""), text)


def _values(values: TradeValues) -> dict[str, object]:
    return {key: value.value for key, value in values.by_key.items()}


def _regions(session: Session, basis: Basis) -> dict[str, Terms]:
    """The default terms as they are, and with the taxes of each region that the office keeps."""
    held = taxes.in_force(session, basis.day)[:MOST_REGIONS]
    by_region = {
        row.region: replace(basis.terms, tax_region=row.region, taxes=taxes.rules_of(row)) for row in held
    }
    return {USUAL: basis.terms, **by_region}
