"""Exchange rates: added, listed, never changed."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any
from uuid import UUID

from service.api import examples
from service.api.framework.conditional import tagged
from service.api.framework.context import session
from service.api.framework.pages import Page, paged
from service.api.framework.routes import Routes
from service.api.schemas.catalogue import page_schema
from service.api.schemas.money import ExchangeRateAnswer, ExchangeRateSchema, ExchangeRatesQuery
from service.quoting import catalogue, exchange

routes = Routes(
    "exchange-rates", __name__, url_prefix="/v1/exchange-rates", description="Dated rates of currencies"
)
PAIR = ("from_currency", "to_currency")


@routes.operation(
    "GET",
    "",
    "List exchange rates",
    scope="prices",
    query=ExchangeRatesQuery,
    answer=page_schema(ExchangeRateAnswer),
    headers=("Link",),
)
def list_exchange_rates(query: dict[str, Any]) -> tuple[Page, Mapping[str, str]]:
    """Newest first; with `on` the one of each pair that holds on the day: the latest, of those the newest."""
    pair = {name: query[name] for name in PAIR if name in query}
    if "on" in query:
        held = exchange.rates_on(session(), query["on"])
        return Page([row for row in held if _is(row, pair)], None), {}
    where = catalogue.matching(exchange.EXCHANGE_RATES, **pair)
    page = paged(query, partial(catalogue.listing, session(), exchange.EXCHANGE_RATES, where=where))
    return page, page.headers


def _is(row: Any, pair: Mapping[str, str]) -> bool:
    return all(getattr(row, name) == value for name, value in pair.items())


@routes.operation(
    "POST",
    "",
    "Add an exchange rate",
    scope="prices",
    body=ExchangeRateSchema,
    answer=ExchangeRateAnswer,
    status=201,
    example=examples.EXCHANGE_RATE,
    stores=True,
    headers=("Location", "ETag"),
)
def add_exchange_rate(body: dict[str, Any]) -> tuple[Any, Mapping[str, str]]:
    """Never changed after: a correction is a newer row of the same pair and day. No inverse is derived."""
    row = exchange.add_rate(session(), body)
    return row, {"Location": f"/v1/exchange-rates/{row.id}", **tagged(1)}


@routes.operation(
    "GET",
    "/<uuid:rate_id>",
    "Read an exchange rate",
    scope="prices",
    answer=ExchangeRateAnswer,
    headers=("ETag",),
    problems=(404,),
)
def get_exchange_rate(rate_id: UUID) -> tuple[Any, Mapping[str, str]]:
    return catalogue.get(session(), exchange.EXCHANGE_RATES, rate_id), tagged(1)
