"""Taxes by region: added, listed, never changed."""

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
from service.api.schemas.money import TaxesAnswer, TaxesQuery, TaxesSchema
from service.pricing.model import TaxRule
from service.quoting import catalogue, taxes

routes = Routes("taxes", __name__, url_prefix="/v1/taxes", description="Dated taxes of regions")


@routes.operation(
    "GET",
    "",
    "List taxes",
    scope="prices",
    query=TaxesQuery,
    answer=page_schema(TaxesAnswer),
    headers=("Link",),
)
def list_taxes(query: dict[str, Any]) -> tuple[Page, Mapping[str, str]]:
    """Newest first; with `on` those of each region that hold on the day: the latest, of those the newest."""
    if "on" in query:
        held = taxes.taxes_on(session(), query["on"])
        return Page([_told(row) for row in held if query.get("region", row.region) == row.region], None), {}
    where = catalogue.matching(taxes.TAXES, region=query.get("region"))
    page = paged(query, partial(catalogue.listing, session(), taxes.TAXES, where=where))
    return Page([_told(row) for row in page.items], page.next), page.headers


@routes.operation(
    "POST",
    "",
    "Add the taxes of a region",
    scope="prices",
    body=TaxesSchema,
    answer=TaxesAnswer,
    status=201,
    example=examples.TAXES,
    stores=True,
    headers=("Location", "ETag"),
)
def add_taxes(body: dict[str, Any]) -> tuple[Any, Mapping[str, str]]:
    """Never changed after: a correction is a newer row of the same region and day."""
    rules = [TaxRule(**rule) for rule in body.pop("rules")]
    row = taxes.add_taxes(session(), rules=rules, **body)
    return _told(row), {"Location": f"/v1/taxes/{row.id}", **tagged(1)}


@routes.operation(
    "GET",
    "/<uuid:taxes_id>",
    "Read the taxes of a region",
    scope="prices",
    answer=TaxesAnswer,
    headers=("ETag",),
    problems=(404,),
)
def get_taxes(taxes_id: UUID) -> tuple[Any, Mapping[str, str]]:
    return _told(catalogue.get(session(), taxes.TAXES, taxes_id)), tagged(1)


def _told(row: Any) -> dict[str, Any]:
    told = {name: getattr(row, name) for name in TaxesAnswer().fields}
    return {**told, "rules": taxes.rules_of(row)}
