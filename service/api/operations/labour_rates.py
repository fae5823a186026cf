"""Labour tables: rates from a day on, with the crew, its day and the price of an hour."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any
from uuid import UUID

from flask import Response

from service.api import examples
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import session
from service.api.framework.pages import PageQuery, paged
from service.api.framework.replies import nothing
from service.api.framework.routes import Routes
from service.api.schemas.catalogue import page_schema
from service.api.schemas.labour_tables import LabourTableAnswer, LabourTableHead, LabourTableSchema
from service.quoting import catalogue
from service.quoting.labour import tables

routes = Routes(
    "labour-rates", __name__, url_prefix="/v1/labour-rates", description="Dated tables of labour rates"
)
Answer = tuple[Any, Mapping[str, str]]
ONE = "/<uuid:table_id>"


@routes.operation(
    "GET",
    "",
    "List labour tables",
    scope="prices",
    query=PageQuery,
    answer=page_schema(LabourTableHead),
    headers=("Link",),
)
def list_labour_tables(query: dict[str, Any]) -> Answer:
    """Newest first, without their rates."""
    page = paged(query, partial(catalogue.listing, session(), tables.LABOUR_TABLES))
    return page, page.headers


@routes.operation(
    "POST",
    "",
    "Add a labour table",
    scope="prices",
    body=LabourTableSchema,
    answer=LabourTableAnswer,
    status=201,
    example=examples.LABOUR_TABLE,
    stores=True,
    headers=("Location", "ETag"),
)
def add_labour_table(body: dict[str, Any]) -> Answer:
    """In force from its day on, until a later one begins."""
    rates = body.pop("rates")
    table = tables.add_labour_table(session(), body, rates)
    told, headers = _told(table.id)
    return told, {"Location": f"/v1/labour-rates/{table.id}", **headers}


@routes.operation(
    "GET",
    ONE,
    "Read a labour table",
    scope="prices",
    answer=LabourTableAnswer,
    headers=("ETag",),
    problems=(404,),
)
def get_labour_table(table_id: UUID) -> Answer:
    return _told(table_id)


@routes.operation(
    "PUT",
    ONE,
    "Replace a labour table",
    scope="prices",
    body=LabourTableSchema,
    answer=LabourTableAnswer,
    example=examples.LABOUR_TABLE,
    changes=True,
    headers=("ETag",),
    problems=(409,),
)
def replace_labour_table(table_id: UUID, body: dict[str, Any]) -> Answer:
    """Stored quotes keep the hours that they were made with."""
    rates = body.pop("rates")
    tables.replace_labour_table(session(), table_id, expected_versions(), body, rates)
    return _told(table_id)


@routes.operation(
    "DELETE", ONE, "Delete a labour table", scope="prices", status=204, changes=True, problems=(409,)
)
def delete_labour_table(table_id: UUID) -> Response:
    """Not one that a quote was made with."""
    catalogue.remove(session(), tables.LABOUR_TABLES, table_id, expected_versions())
    return nothing()


def _told(table_id: UUID) -> Answer:
    table, rates = tables.labour_table(session(), table_id)
    told = {name: getattr(table, name) for name in LabourTableHead().fields} | {"rates": rates}
    return told, tagged(table.version)
