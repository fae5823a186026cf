"""Quotes: made, listed, read, drawn."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any
from uuid import UUID

import structlog
from flask import Response

from service.api import examples
from service.api.framework.body import request_json
from service.api.framework.conditional import tagged
from service.api.framework.context import caller, now, session
from service.api.framework.pages import Page, paged
from service.api.framework.replies import drawing, reply
from service.api.framework.routes import Routes
from service.api.operations.from_ballparks import ballpark_of, with_rooms
from service.api.operations.jobs import changed_job, job_of, plan_of
from service.api.operations.takeoffs import SVG, PlanQuery
from service.api.schemas.quote import (
    NewQuoteSchema,
    QuotePageSchema,
    QuoteSchema,
    QuotesQuery,
    ViewQuery,
)
from service.api.schemas.quote_answer import quote_answer
from service.quoting import quotes as use_cases
from service.quoting.basis import Hours, OptionAsked, QuoteRequest
from service.quoting.quotes.heads import Wanted
from service.quoting.quotes.stored import StoredQuote

PAGE = ("limit", "cursor")
CUSTOMER_TERMS = (
    "customer",
    "customer_id",
    "terms_id",
    "price_date",
    "tax_date",
    "valid_days",
    "start_date",
    "buying",
    "job_offers",
    "crew",
)
quotes = Routes("quotes", __name__, url_prefix="/v1/quotes", description="Priced, numbered, stored quotes")


def request_of(body: Mapping[str, Any], document: Mapping[str, Any]) -> QuoteRequest:
    """What a loaded body asks for; the document that it was loaded from is kept."""
    asked = {name: body[name] for name in CUSTOMER_TERMS if name in body}
    options = tuple(_option(document, place, said) for place, said in enumerate(body.get("options", ())))
    day_work = tuple(Hours(**work) for work in body.get("day_work", ()))
    return QuoteRequest(job=job_of(body), body=document, options=options, day_work=day_work, **asked)


def _option(document: Mapping[str, Any], place: int, said: Mapping[str, Any]) -> OptionAsked:
    """An option with the job that it makes of the rooms."""
    job = changed_job(document, "options", place, said)
    return OptionAsked(said["name"], job, document["options"][place])


@quotes.operation(
    "POST",
    "",
    "Make a quote",
    scope="quotes",
    body=NewQuoteSchema,
    query=ViewQuery,
    answer=QuoteSchema,
    status=201,
    example=examples.QUOTE,
    stores=True,
    headers=("Location", "ETag"),
)
def make_quote(body: dict[str, Any], query: dict[str, Any]) -> Response:
    """A stored, numbered draft: the take-off of the rooms, priced.

    A floor that a finding refuses is stored with totals null. With the token of a ballpark in the place of
    rooms its answers make one room; what they leave open is assumed and told.
    """
    body, document = with_rooms(body, request_json())
    quote = use_cases.make_quote(session(), request_of(body, document), now(), caller().id)
    structlog.contextvars.bind_contextvars(quote=str(quote.id))
    headers = {"Location": f"/v1/quotes/{quote.id}", **tagged(quote.version)}
    return reply(_told(quote, query["view"]), 201, headers)


@quotes.operation(
    "GET", "", "List quotes", scope="quotes", query=QuotesQuery, answer=QuotePageSchema, headers=("Link",)
)
def list_quotes(query: dict[str, Any]) -> tuple[Page, dict[str, str]]:
    """Newest first, with the figures of the revision that stands. Days are the office's own."""
    wanted = Wanted(**{name: value for name, value in query.items() if name not in PAGE})
    page = paged(query, partial(use_cases.list_quotes, session(), wanted=wanted))
    return page, page.headers


@quotes.operation(
    "GET",
    "/<uuid:quote_id>",
    "Read a quote",
    scope="quotes",
    query=ViewQuery,
    answer=QuoteSchema,
    headers=("ETag",),
    problems=(404,),
)
def get_quote(quote_id: UUID, query: dict[str, Any]) -> Response:
    """The revision that stands: the offer, else the draft; `view=customer` for what a customer may see."""
    quote = use_cases.get_quote(session(), quote_id)
    return reply(_told(quote, query["view"]), 200, tagged(quote.version))


def _told(quote: StoredQuote, view: str) -> dict[str, Any]:
    """The quote, for the office with the ballpark that it came from."""
    return quote_answer(quote, view) | (ballpark_of(quote.body) if view == "office" else {})


@quotes.operation(
    "GET",
    "/<uuid:quote_id>/plan",
    "Draw a room of a quote",
    scope="quotes",
    query=PlanQuery,
    headers=("ETag",),
    problems=(404,),
    also={SVG: "the plan of one room"},
)
def get_quote_plan(quote_id: UUID, query: dict[str, Any]) -> Response:
    """The plan of one room as SVG."""
    quote = use_cases.get_quote(session(), quote_id)
    units = quote.body.get("display_units", "metric")
    return drawing(plan_of(quote.takeoff, query, units), tagged(quote.version))
