"""A quote put into the names of its schema, for the office or for the customer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import marshmallow as ma

from service.api.framework.schema import made
from service.api.schemas.answer import takeoff_answer
from service.api.schemas.basket import BasketSchema
from service.api.schemas.options import options_answer
from service.api.schemas.priced import (
    CustomerTotalsSchema,
    LineSchema,
    NoticeSchema,
    TotalsSchema,
    customer_line,
)
from service.api.schemas.quote import QuoteSchema
from service.api.schemas.quote_life import without_inner
from service.pricing.model import Priced

if TYPE_CHECKING:
    from service.quoting.quotes import StoredQuote

HEAD = (
    "id",
    "number",
    "revision",
    "state",
    "current_revision",
    "offered_revision",
    "parent_id",
    "day_work",
    "currency",
    "price_date",
    "valid_until",
    "created_at",
)
INNER = ("versions", "prices_changed_at", "draft_revision")
CUSTOMER_ROOM = ("name", "room", "measures", "layout", "findings")
CUSTOMER_TAKEOFF = ("standards", "rooms", "schedule", "refused", "cautions", "assumptions", "exclusions")


def quote_answer(quote: StoredQuote, view: str = "office") -> dict[str, Any]:
    """The quote in the names of QuoteSchema, for the office or for the customer."""
    takeoff = takeoff_answer(quote.takeoff, quote.body.get("display_units", "metric"))
    told = _for_office(quote, takeoff) if view == "office" else _for_customer(quote, takeoff)
    return {**told, **_head(quote), "options": options_answer(quote, view)}


def _head(quote: StoredQuote) -> dict[str, Any]:
    dumped: dict[str, Any] = made(QuoteSchema, only=HEAD).dump(quote)
    here = f"/v1/quotes/{quote.id}"
    links = {"self": here, "plan": f"{here}/plan", "revisions": f"{here}/revisions"}
    return {**dumped, "customer": quote.customer, "acceptance": _acceptance(quote), "links": links}


def _acceptance(quote: StoredQuote) -> dict[str, Any] | None:
    """As it was kept: its figures are text already."""
    if quote.acceptance is None:
        return None
    said = without_inner(quote.acceptance)
    return {**said, "accepted_at": said["accepted_at"].isoformat()}


def _for_office(quote: StoredQuote, takeoff: dict[str, Any]) -> dict[str, Any]:
    lines = quote.priced.lines if quote.priced else ()
    own = made(QuoteSchema, only=INNER).dump(quote)
    return {
        **takeoff,
        **own,
        "lines": made(LineSchema, many=True).dump(lines),
        "totals": _totals(quote.priced, TotalsSchema),
        "notices": made(NoticeSchema, many=True).dump(quote.priced.notices if quote.priced else ()),
        "basket": _basket(quote.priced),
    }


def _for_customer(quote: StoredQuote, takeoff: dict[str, Any]) -> dict[str, Any]:
    """Only what is listed here goes out, so that a new member of the office's view stays inside."""
    lines = quote.priced.lines if quote.priced else ()
    told = {name: takeoff[name] for name in CUSTOMER_TAKEOFF}
    told["rooms"] = [{name: room[name] for name in CUSTOMER_ROOM} for room in takeoff["rooms"]]
    return {
        **told,
        "lines": [customer_line(line) for line in lines],
        "totals": _totals(quote.priced, CustomerTotalsSchema),
    }


def _basket(priced: Priced | None) -> dict[str, Any] | None:
    if priced is None or priced.basket is None:
        return None
    dumped: dict[str, Any] = made(BasketSchema).dump(priced.basket)
    return dumped


def _totals(priced: Priced | None, schema: type[ma.Schema]) -> dict[str, Any] | None:
    if priced is None or priced.totals is None:
        return None
    dumped: dict[str, Any] = made(schema).dump(priced.totals)
    return dumped
