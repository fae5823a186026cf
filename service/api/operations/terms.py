"""Commercial terms."""

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
from service.api.framework.replies import nothing, reply
from service.api.framework.routes import Routes
from service.api.schemas.catalogue import Stored, page_schema
from service.api.schemas.office import TermsAnswer, TermsSchema
from service.quoting import catalogue, office
from service.store.models import TermsRow

routes = Routes("terms", __name__, url_prefix="/v1/terms", description="Commercial terms")
ONE = "/<uuid:terms_id>"
HEAD = ("name", "is_default")


@routes.operation(
    "GET",
    "",
    "List terms",
    scope="prices",
    query=PageQuery,
    answer=page_schema(TermsAnswer),
    headers=("Link",),
)
def list_terms(query: dict[str, Any]) -> Response:
    """Newest first."""
    page = paged(query, partial(catalogue.listing, session(), office.TERMS))
    return reply({"items": [_told(row) for row in page.items], "next": page.next}, 200, page.headers)


@routes.operation(
    "POST",
    "",
    "Add terms",
    scope="prices",
    body=TermsSchema,
    answer=TermsAnswer,
    status=201,
    example=examples.TERMS,
    stores=True,
    headers=("Location", "ETag"),
)
def add_terms(body: dict[str, Any]) -> Response:
    """As the default they take the place of the former default."""
    row = office.add_terms(session(), **_parted(body))
    return reply(_told(row), 201, {"Location": f"/v1/terms/{row.id}", **tagged(row.version)})


@routes.operation(
    "GET", ONE, "Read terms", scope="prices", answer=TermsAnswer, headers=("ETag",), problems=(404,)
)
def get_terms(terms_id: UUID) -> Response:
    row = catalogue.get(session(), office.TERMS, terms_id)
    return reply(_told(row), 200, tagged(row.version))


@routes.operation(
    "PUT",
    ONE,
    "Replace terms",
    scope="prices",
    body=TermsSchema,
    answer=TermsAnswer,
    example=examples.TERMS,
    changes=True,
    headers=("ETag",),
    problems=(409,),
)
def replace_terms(terms_id: UUID, body: dict[str, Any]) -> Response:
    """Stored quotes keep the terms that they were made on."""
    row = office.replace_terms(session(), terms_id, expected_versions(), **_parted(body))
    return reply(_told(row), 200, tagged(row.version))


@routes.operation("DELETE", ONE, "Delete terms", scope="prices", status=204, changes=True, problems=(409,))
def delete_terms(terms_id: UUID) -> Response:
    """Not those that a quote was made on."""
    catalogue.remove(session(), office.TERMS, terms_id, expected_versions())
    return nothing()


def _parted(body: Mapping[str, Any]) -> dict[str, Any]:
    """Name and default as columns, the rest as the stored body, decimals as strings."""
    dumped: dict[str, Any] = TermsSchema().dump(body)
    rest = {name: value for name, value in dumped.items() if name not in HEAD}
    return {**{name: body[name] for name in HEAD}, "body": rest}


def _told(row: TermsRow) -> dict[str, Any]:
    dumped: dict[str, Any] = Stored().dump(row)
    return {**dumped, "name": row.name, "is_default": row.is_default, **row.body}
