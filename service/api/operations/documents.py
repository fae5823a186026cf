"""The document of a quote that a customer reads and signs, as HTML or PDF."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast
from uuid import UUID

from flask import Response

from service.api.framework.context import session
from service.api.framework.replies import chosen
from service.api.framework.routes import Routes
from service.api.schemas.letterhead import DocumentQuery, LetterheadSchema
from service.quoting import documents as use_cases
from service.quoting.documents import Gathered
from service.quoting.imprints import Addressee
from service.render.document import (
    CSP,
    Address,
    Alternative,
    Offer,
    Recipient,
    Sender,
    Style,
    compose,
    html,
    pdf,
)
from service.render.document.model import Detail, Language, Paper

HTML, PDF = "text/html", "application/pdf"
routes = Routes("documents", __name__, url_prefix="/v1/quotes", description="Quotes as documents to sign")


@routes.operation(
    "GET",
    "/<uuid:quote_id>/document",
    "Read the document of a quote",
    scope="quotes",
    query=DocumentQuery,
    problems=(404, 406),
    also={HTML: "the document as a page", PDF: "the document as tagged PDF"},
)
def get_quote_document(quote_id: UUID, query: dict[str, Any]) -> Response:
    """What the customer may see of a quote, to be read, printed and signed; HTML or PDF by Accept.

    Language, paper and detail are those asked for, else the customer's language and the letterhead's; a
    draft says that it is one. Letterhead and customer are those of the day of issue, of a draft today's.
    Prices of rooms add up to net: what serves several is shared out by floor area.
    """
    media_type = chosen(HTML, PDF)
    gathered = use_cases.gather(session(), quote_id, query.get("revision"))
    printed = gathered.imprint
    letterhead: dict[str, Any] = LetterheadSchema().load(printed.letterhead)
    style = _style(query, letterhead, printed.customer)
    document = compose(
        _sender(printed.name, letterhead),
        _recipient(printed.customer),
        _offer(gathered),
        style,
    )
    if media_type == PDF:
        name = f"{gathered.quote.number}-{gathered.quote.revision}.pdf"
        headers = {"Content-Disposition": f'inline; filename="{name}"'}
        return Response(pdf(document), 200, headers, content_type=PDF)
    headers = {"Content-Security-Policy": CSP, "Content-Language": document.language}
    return Response(html(document), 200, headers, content_type=f"{HTML}; charset=utf-8")


def _style(query: Mapping[str, Any], letterhead: Mapping[str, Any], customer: Addressee | None) -> Style:
    spoken = query.get("locale") or (customer and customer.locale) or letterhead["locale"]
    return Style(
        language=cast(Language, spoken),
        paper=cast(Paper, query.get("paper") or letterhead["paper"]),
        detail=cast(Detail, query.get("detail") or letterhead["detail"]),
    )


def _sender(name: str, letterhead: Mapping[str, Any]) -> Sender:
    known = {field: letterhead.get(field) or "" for field in Sender.__slots__ if field not in _SHAPED}
    bank = tuple(letterhead.get("bank_details") or ())
    return Sender(name=name, address=Address.of(letterhead.get("address") or {}), bank_details=bank, **known)


_SHAPED = frozenset({"name", "address", "bank_details"})


def _recipient(customer: Addressee | None) -> Recipient:
    if customer is None:
        return Recipient()
    return Recipient(
        name=customer.name,
        address=Address.of(customer.address),
        kind="business" if customer.kind == "business" else "consumer",
        tax_number=customer.tax_number or "",
        erased=customer.erased,
    )


def _offer(gathered: Gathered) -> Offer:
    """Where an option was taken it is the offer, and the others are of no account any more."""
    quote = gathered.quote
    said = quote.acceptance or {}
    taken = next(iter(said.get("options", ())), "")
    options = tuple(Alternative(each.name, each.note, each.takeoff, each.priced) for each in quote.options)
    return Offer(
        number=quote.number,
        revision=quote.revision,
        state=quote.state,
        made_on=gathered.made_on,
        valid_until=quote.valid_until,
        currency=quote.currency,
        takeoff=quote.takeoff,
        priced=quote.priced,
        us_units=quote.body.get("display_units") == "us",
        options=() if taken else options,
        taken=taken,
        taken_rooms=tuple(said.get("rooms", ())),
    )
