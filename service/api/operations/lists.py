"""What a quote is bought, picked and built by: purchase list, pick list, crew sheet."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from uuid import UUID

from flask import Response

from service.api.framework import tables
from service.api.framework.context import session
from service.api.framework.replies import chosen, reply
from service.api.framework.routes import Routes
from service.api.schemas.crew_sheet import CrewSheetSchema, crew_answer
from service.api.schemas.letterhead import CrewSheetQuery, LetterheadSchema
from service.api.schemas.lists import (
    PICK_COLUMNS,
    PURCHASE_COLUMNS,
    PickListSchema,
    PurchaseListSchema,
    PurchaseQuery,
    pick_answer,
    pick_rows,
    purchase_answer,
    purchase_rows,
)
from service.api.schemas.us_figures import with_us_figures
from service.quoting import office
from service.quoting.crew_sheet import sheet_of
from service.quoting.pick import pick_list
from service.quoting.purchase import bought_by, purchase_list
from service.quoting.quotes import as_accepted, get_quote
from service.render.document.language import Tongue, tongue
from service.render.spoken import spoken

routes = Routes(
    "lists", __name__, url_prefix="/v1/quotes", description="What a quote is bought, picked and built by"
)
CSV = {tables.MEDIA_TYPE: "the same as a table; text that looks like a formula stands behind an apostrophe"}


@routes.operation(
    "GET",
    "/<uuid:quote_id>/purchase-list",
    "What to buy from whom",
    scope="quotes",
    query=PurchaseQuery,
    answer=PurchaseListSchema,
    problems=(404, 406, 409),
    also=CSV,
)
def get_purchase_list(quote_id: UUID, query: dict[str, Any]) -> Response:
    """Products, packs, cost and delivery by supplier, as the quote priced them.

    409 for a floor that is refused. With Accept: text/csv a table.
    """
    wanted = chosen("application/json", tables.MEDIA_TYPE)
    quote = as_accepted(session(), get_quote(session(), quote_id))
    found = purchase_list(session(), quote, query.get("supplier"), query.get("needed_by"))
    if wanted == tables.MEDIA_TYPE:
        return tables.table(PURCHASE_COLUMNS, purchase_rows(found), f"purchase-list-{quote.id}")
    return reply(purchase_answer(found))


@routes.operation(
    "GET",
    "/<uuid:quote_id>/pick-list",
    "What goes into which room",
    scope="quotes",
    answer=PickListSchema,
    problems=(404, 406, 409),
    also=CSV,
)
def get_pick_list(quote_id: UUID) -> Response:
    """Each material by room, with the packs that rooms share.

    409 for a floor that is refused. With Accept: text/csv a table.
    """
    wanted = chosen("application/json", tables.MEDIA_TYPE)
    quote = as_accepted(session(), get_quote(session(), quote_id))
    picks = pick_list(quote.takeoff, bought_by(quote).lines)
    if wanted == tables.MEDIA_TYPE:
        return tables.table(PICK_COLUMNS, pick_rows(picks), f"pick-list-{quote.id}")
    return reply(pick_answer(quote, picks))


@routes.operation(
    "GET",
    "/<uuid:quote_id>/crew-sheet",
    "What the crew cuts, mixes and does",
    scope="quotes",
    query=CrewSheetQuery,
    answer=CrewSheetSchema,
    problems=(404, 409),
)
def get_crew_sheet(quote_id: UUID, query: dict[str, Any]) -> Response:
    """Cut list by room, powder with its water and batches, the order of work, tools and cautions.

    409 for a floor that is refused.
    What is to be seen to and done, tools and cautions are in the language asked for, else the office's.
    """
    found = as_accepted(session(), get_quote(session(), quote_id))
    quote = replace(found, takeoff=spoken(found.takeoff, _tongue(found.currency, query.get("locale"))))
    answer = crew_answer(quote, sheet_of(quote))
    return reply(with_us_figures(answer) if quote.body.get("display_units") == "us" else answer)


def _tongue(currency: str, asked: str | None) -> Tongue:
    letterhead: dict[str, Any] = LetterheadSchema().load(office.organisation(session()).letterhead)
    country = (letterhead.get("address") or {}).get("country") or ""
    return tongue(asked or letterhead["locale"], country, currency)
