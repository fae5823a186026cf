"""What holds on a day, the agreements with suppliers, and the limit of a change of price."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any
from uuid import UUID

from service.api import examples
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import now, session
from service.api.framework.pages import PAGING, Key, Page, paged
from service.api.framework.routes import Routes
from service.api.schemas.catalogue import page_schema
from service.api.schemas.prices import (
    AgreementAnswer,
    AgreementEndSchema,
    AgreementSchema,
    AgreementsQuery,
    PriceBookAnswer,
    PriceBookQuery,
    PriceLimitSchema,
)
from service.quoting import agreements, catalogue, office, price_book

Answer = tuple[Any, Mapping[str, str]]
book = Routes("price-book", __name__, url_prefix="/v1/price-book", description="What holds on a day")
letters = Routes(
    "agreements", __name__, url_prefix="/v1/agreements", description="What suppliers grant the office"
)
ONE = "/<uuid:agreement_id>"


@book.operation(
    "GET",
    "",
    "Read the price book of a day",
    scope="prices",
    query=PriceBookQuery,
    answer=PriceBookAnswer,
    headers=("Link",),
)
def read_price_book(query: dict[str, Any]) -> Answer:
    """Past days too, as they were known then. Of a supplier's regular lists that hold, the one of the highest
    priority counts, then the one that began last, in place of the others whole; promotions go by product.
    On a regular list the agreement for the product, else for the role, that began last."""
    asked, known_at = {name: query.pop(name) for name in PAGING}, query.pop("known_at")
    day, named = query.pop("on") or office.today(session(), now()), query.pop("reference")

    def rows(limit: int, after: Key | None) -> Sequence[Any]:
        return price_book.page(session(), day, limit, after, named, known_at, **query)

    page = paged(asked, rows)
    return {"on": day, "known_at": known_at, "items": page.items, "next": page.next}, page.headers


@book.operation(
    "GET",
    "/limit",
    "Read the limit of a change of price",
    scope="prices",
    answer=PriceLimitSchema,
    headers=("ETag",),
)
def get_price_limit() -> Answer:
    return _limit(office.organisation(session()))


@book.operation(
    "PUT",
    "/limit",
    "Set the limit of a change of price",
    scope="prices",
    body=PriceLimitSchema,
    answer=PriceLimitSchema,
    example=examples.PRICE_LIMIT,
    changes=True,
    headers=("ETag",),
)
def replace_price_limit(body: dict[str, Any]) -> Answer:
    """Prices that move by more want a confirmation before their list goes live."""
    return _limit(office.set_price_limit(session(), body["jump_percent"], expected_versions()))


@letters.operation(
    "GET",
    "",
    "List agreements",
    scope="prices",
    query=AgreementsQuery,
    answer=page_schema(AgreementAnswer),
    headers=("Link",),
)
def list_agreements(query: dict[str, Any]) -> tuple[Page, dict[str, str]]:
    """Newest first."""
    where = catalogue.matching(agreements.AGREEMENTS, supplier_id=query.get("supplier_id"))
    page = paged(query, partial(catalogue.listing, session(), agreements.AGREEMENTS, where=where))
    return page, page.headers


@letters.operation(
    "POST",
    "",
    "Add an agreement",
    scope="prices",
    body=AgreementSchema,
    answer=AgreementAnswer,
    status=201,
    example=examples.AGREEMENT,
    stores=True,
    headers=("Location", "ETag"),
)
def add_agreement(body: dict[str, Any]) -> Answer:
    """It is never edited, only ended; another one is written instead."""
    row = agreements.add(session(), body)
    return row, {"Location": f"/v1/agreements/{row.id}", **tagged(row.version)}


@letters.operation(
    "GET",
    ONE,
    "Read an agreement",
    scope="prices",
    answer=AgreementAnswer,
    headers=("ETag",),
    problems=(404,),
)
def get_agreement(agreement_id: UUID) -> Answer:
    row = catalogue.get(session(), agreements.AGREEMENTS, agreement_id)
    return row, tagged(row.version)


@letters.operation(
    "POST",
    f"{ONE}/end",
    "End an agreement",
    scope="prices",
    body=AgreementEndSchema,
    answer=AgreementAnswer,
    example=examples.AGREEMENT_END,
    changes=True,
    stores=True,
    headers=("ETag",),
)
def end_agreement(agreement_id: UUID, body: dict[str, Any]) -> Answer:
    """With a last day that is not over yet and no later than the one that it has."""
    row = agreements.end(session(), agreement_id, expected_versions(), body["valid_until"], now())
    return row, tagged(row.version)


def _limit(organisation: Any) -> Answer:
    return {"jump_percent": organisation.price_jump_percent}, tagged(organisation.version)
