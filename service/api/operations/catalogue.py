"""Suppliers, products and customers: kept the same way, so declared once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any
from uuid import UUID

import marshmallow as ma
from flask import Response

from service.api import examples
from service.api.framework.auth import Scope
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import session
from service.api.framework.pages import Page, PageQuery, paged
from service.api.framework.replies import nothing
from service.api.framework.routes import Routes
from service.api.schemas import catalogue as schemas
from service.api.schemas import office
from service.quoting import catalogue as use_cases
from service.quoting import customers
from service.quoting.catalogue import Kind

Answer = tuple[Any, Mapping[str, str]]


@dataclass(frozen=True)
class Shelf:
    """How one kind of thing is offered over HTTP."""

    kind: Kind[Any]
    path: str
    plural: str
    scope: Scope
    body: type[ma.Schema]
    answer: type[ma.Schema]
    query: type[ma.Schema]
    example: Mapping[str, Any]
    filters: tuple[str, ...] = ()
    archives: bool = True
    replace: Callable[..., Any] = use_cases.replace

    def located(self, row: Any) -> Mapping[str, str]:
        return {"Location": f"/v1/{self.path}/{row.id}", **tagged(row.version)}

    def where(self, query: Mapping[str, Any]) -> tuple[Any, ...]:
        """The conditions of a listing."""
        chosen = use_cases.matching(self.kind, **{name: query.get(name) for name in self.filters})
        return chosen + (use_cases.unarchived(self.kind, query["archived"]) if self.archives else ())


SHELVES = (
    Shelf(
        use_cases.SUPPLIERS,
        "suppliers",
        "suppliers",
        "prices",
        schemas.SupplierSchema,
        schemas.SupplierAnswer,
        schemas.CatalogueQuery,
        examples.SUPPLIER,
    ),
    Shelf(
        use_cases.PRODUCTS,
        "products",
        "products",
        "prices",
        schemas.ProductSchema,
        schemas.ProductAnswer,
        schemas.ProductsQuery,
        examples.PRODUCT,
        filters=("role",),
    ),
    Shelf(
        use_cases.CUSTOMERS,
        "customers",
        "customers",
        "quotes",
        office.CustomerSchema,
        office.CustomerAnswer,
        PageQuery,
        examples.CUSTOMER,
        archives=False,
        replace=customers.replace,
    ),
)


def routes_of(shelf: Shelf) -> Routes:
    """List, add, read, replace and take away one kind of thing."""
    routes = Routes(
        shelf.path, __name__, url_prefix=f"/v1/{shelf.path}", description=shelf.plural.capitalize()
    )
    _declare_collection(routes, shelf)
    _declare_member(routes, shelf)
    return routes


def _declare_collection(routes: Routes, shelf: Shelf) -> None:
    kind, scope, noun = shelf.kind, shelf.scope, shelf.kind.word

    @routes.operation(
        "GET",
        "",
        f"List {shelf.plural}",
        name=f"list_{shelf.plural}",
        scope=scope,
        query=shelf.query,
        answer=schemas.page_schema(shelf.answer),
        headers=("Link",),
    )
    def list_things(query: dict[str, Any]) -> tuple[Page, dict[str, str]]:
        """Newest first."""
        page = paged(query, partial(use_cases.listing, session(), kind, where=shelf.where(query)))
        return page, page.headers

    @routes.operation(
        "POST",
        "",
        f"Add a {noun}",
        name=f"add_{noun}",
        scope=scope,
        body=shelf.body,
        answer=shelf.answer,
        status=201,
        example=shelf.example,
        stores=True,
        headers=("Location", "ETag"),
    )
    def add_thing(body: dict[str, Any]) -> Answer:
        row = use_cases.add(session(), kind, body)
        return row, shelf.located(row)


def _declare_member(routes: Routes, shelf: Shelf) -> None:
    kind, scope, noun = shelf.kind, shelf.scope, shelf.kind.word

    @routes.operation(
        "GET",
        "/<uuid:row_id>",
        f"Read a {noun}",
        name=f"get_{noun}",
        scope=scope,
        answer=shelf.answer,
        headers=("ETag",),
        problems=(404,),
    )
    def get_thing(row_id: UUID) -> Answer:
        row = use_cases.get(session(), kind, row_id)
        return row, tagged(row.version)

    @routes.operation(
        "PUT",
        "/<uuid:row_id>",
        f"Replace a {noun}",
        name=f"replace_{noun}",
        scope=scope,
        body=shelf.body,
        answer=shelf.answer,
        example=shelf.example,
        changes=True,
        headers=("ETag",),
        problems=(409,),
    )
    def replace_thing(row_id: UUID, body: dict[str, Any]) -> Answer:
        row = shelf.replace(session(), kind, row_id, expected_versions(), body)
        return row, tagged(row.version)

    @routes.operation(
        "DELETE",
        "/<uuid:row_id>",
        f"{'Archive' if shelf.archives else 'Delete'} a {noun}",
        name=f"{'archive' if shelf.archives else 'delete'}_{noun}",
        scope=scope,
        status=204,
        changes=True,
        problems=(409,),
    )
    def take_away(row_id: UUID) -> Response:
        away = use_cases.archive if shelf.archives else use_cases.remove
        away(session(), kind, row_id, expected_versions())
        return nothing()
