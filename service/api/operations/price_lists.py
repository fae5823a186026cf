"""Price lists: a draft is written, given its prices, activated, and never edited after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any
from uuid import UUID

from flask import Response

from service.api import examples
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import now, session
from service.api.framework.pages import Page, paged
from service.api.framework.problems import Fault, invalid
from service.api.framework.replies import nothing
from service.api.framework.routes import Routes
from service.api.framework.uploads import charset, received
from service.api.schemas.catalogue import page_schema
from service.api.schemas.price_lists import (
    PriceItemsAnswer,
    PriceItemsSchema,
    PriceListAnswer,
    PriceListSchema,
    PriceListsQuery,
)
from service.api.schemas.prices import DELIMITERS, MARKS, ActivationSchema, ImportAnswer, ImportQuery
from service.quoting import catalogue
from service.quoting import price_lists as use_cases
from service.quoting.imports.columns import fields
from service.quoting.imports.run import import_prices
from service.quoting.imports.source import Options

routes = Routes("price-lists", __name__, url_prefix="/v1/price-lists", description="Suppliers' dated prices")
Answer = tuple[Any, Mapping[str, str]]
ONE = "/<uuid:list_id>"
FILTERS = ("supplier_id", "state")


@routes.operation(
    "GET",
    "",
    "List price lists",
    scope="prices",
    query=PriceListsQuery,
    answer=page_schema(PriceListAnswer),
    headers=("Link",),
)
def list_price_lists(query: dict[str, Any]) -> tuple[Page, dict[str, str]]:
    """Newest first."""
    where = catalogue.matching(use_cases.PRICE_LISTS, **{name: query.get(name) for name in FILTERS})
    page = paged(query, partial(catalogue.listing, session(), use_cases.PRICE_LISTS, where=where))
    return page, page.headers


@routes.operation(
    "POST",
    "",
    "Add a price list",
    scope="prices",
    body=PriceListSchema,
    answer=PriceListAnswer,
    status=201,
    example=examples.PRICE_LIST,
    stores=True,
    headers=("Location", "ETag"),
)
def add_price_list(body: dict[str, Any]) -> Answer:
    """A draft without prices."""
    row = use_cases.add(session(), body)
    return row, {"Location": f"/v1/price-lists/{row.id}", **tagged(row.version)}


@routes.operation(
    "GET",
    ONE,
    "Read a price list",
    scope="prices",
    answer=PriceListAnswer,
    headers=("ETag",),
    problems=(404,),
)
def get_price_list(list_id: UUID) -> Answer:
    row = catalogue.get(session(), use_cases.PRICE_LISTS, list_id)
    return row, tagged(row.version)


@routes.operation(
    "PUT",
    ONE,
    "Replace a draft's head",
    scope="prices",
    body=PriceListSchema,
    answer=PriceListAnswer,
    example=examples.PRICE_LIST,
    changes=True,
    headers=("ETag",),
    problems=(409,),
)
def replace_price_list(list_id: UUID, body: dict[str, Any]) -> Answer:
    row = use_cases.replace(session(), list_id, expected_versions(), body)
    return row, tagged(row.version)


@routes.operation("DELETE", ONE, "Delete a draft", scope="prices", status=204, changes=True, problems=(409,))
def delete_price_list(list_id: UUID) -> Response:
    """An activated list stays."""
    use_cases.remove(session(), list_id, expected_versions())
    return nothing()


@routes.operation(
    "GET",
    f"{ONE}/items",
    "Read a price list's prices",
    scope="prices",
    answer=PriceItemsAnswer,
    headers=("ETag",),
    problems=(404,),
)
def get_price_list_items(list_id: UUID) -> Answer:
    """By product, pack size and number of packs."""
    return _prices(*use_cases.items(session(), list_id))


@routes.operation(
    "PUT",
    f"{ONE}/items",
    "Write a draft's prices",
    scope="prices",
    body=PriceItemsSchema,
    answer=PriceItemsAnswer,
    example=examples.PRICE_ITEMS,
    changes=True,
    headers=("ETag",),
    problems=(409,),
)
def replace_price_list_items(list_id: UUID, body: dict[str, Any]) -> Answer:
    """In place of those that it had. The ETag is the list's."""
    return _prices(*use_cases.replace_items(session(), list_id, expected_versions(), body["items"]))


@routes.operation(
    "POST",
    f"{ONE}/activate",
    "Put a draft in force",
    scope="prices",
    body=ActivationSchema,
    answer=PriceListAnswer,
    example=examples.ACTIVATION,
    changes=True,
    stores=True,
    headers=("ETag",),
    problems=(409,),
)
def activate_price_list(list_id: UUID, body: dict[str, Any]) -> Answer:
    """From now on (at the earliest from its first day), or from the moment `at`, which is to come. What was
    in force on days before is not rewritten. The prices stand from now on; a correction is a new list."""
    consent = use_cases.Consent(**body)
    if consent.at is not None and consent.at < now():
        raise invalid(Fault("Already past; without it the list holds from now on.", pointer="/at"))
    row = use_cases.activate(session(), list_id, expected_versions(), consent)
    return row, tagged(row.version)


@routes.operation(
    "POST",
    f"{ONE}/withdraw",
    "Take an active list out of force",
    scope="prices",
    answer=PriceListAnswer,
    changes=True,
    stores=True,
    headers=("ETag",),
    problems=(409,),
)
def withdraw_price_list(list_id: UUID) -> Answer:
    """From now on; what it held until now can still be asked."""
    row = use_cases.withdraw(session(), list_id, expected_versions())
    return row, tagged(row.version)


@routes.operation(
    "POST",
    f"{ONE}/import",
    "Import a price file into a draft",
    scope="prices",
    query=ImportQuery,
    answer=ImportAnswer,
    changes=True,
    stores=True,
    upload=True,
    headers=("ETag",),
    problems=(409,),
)
def import_price_list(list_id: UUID, query: dict[str, Any]) -> Answer:
    """A CSV file or a workbook, as the body or as the one file of a form, in place of the draft's prices.

    The same file again changes nothing. The ETag is the list's, If-Match is wanted of a dry run too."""
    report = import_prices(session(), list_id, received(), _options(query), expected=expected_versions())
    return report, tagged(catalogue.get(session(), use_cases.PRICE_LISTS, list_id).version)


def _options(query: Mapping[str, Any]) -> Options:
    pairs = (pair.rpartition("=") for pair in query["map"])
    columns = {heading: field for heading, _, field in pairs}
    unknown = set(columns.values()) - set(fields())
    if unknown:
        known = ", ".join(fields())
        raise invalid(Fault(f"No field {', '.join(sorted(unknown))}; known are {known}.", parameter="map"))
    flags = ("dry_run", "create_products", "activate", "accept_rejected", "confirm_jumps")
    return Options(
        encoding=query["encoding"] or charset(),
        delimiter=DELIMITERS.get(query["delimiter"]),
        decimal=MARKS.get(query["decimal"]),
        columns=columns,
        **{name: query[name] for name in flags},
    )


def _prices(head: Any, items: Sequence[Any]) -> Answer:
    return {"items": items}, tagged(head.version)
