"""What happens to a quote: revised, issued, accepted, declined, withdrawn."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response

from service.api import examples
from service.api.framework.body import request_json
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import caller, now, session
from service.api.framework.patch import whole_or_patched
from service.api.framework.replies import reply
from service.api.framework.routes import Routes
from service.api.operations.quotes import request_of
from service.api.schemas.difference import DifferenceQuery, RevisionDifferenceSchema
from service.api.schemas.quote import QuoteRequestSchema, QuoteSchema, ViewQuery
from service.api.schemas.quote_answer import quote_answer
from service.api.schemas.quote_life import (
    AcceptSchema,
    EndSchema,
    IssueSchema,
    RevisionsSchema,
)
from service.quoting.quotes import Actor, StoredQuote, get_quote
from service.quoting.quotes import answer as answers
from service.quoting.quotes import difference as comparing
from service.quoting.quotes import issue as issuing
from service.quoting.quotes import revise as revising
from service.quoting.quotes import vary as varying
from service.quoting.quotes.part import Scope
from service.store.life import as_text

TABLE = f"""What happens to a quote, and what may follow on each state of a revision:

{as_text()}

An issued revision never changes. A further one is a draft
beside it and takes its place only when it is issued.
"""
routes = Routes("quote_life", __name__, url_prefix="/v1/quotes", description=TABLE)
ONE = "/<uuid:quote_id>"


def actor() -> Actor:
    return Actor(now(), caller().id)


@routes.operation(
    "POST",
    f"{ONE}/issue",
    "Issue a quote",
    scope="quotes",
    body=IssueSchema,
    answer=QuoteSchema,
    example=examples.ISSUE,
    changes=True,
    stores=True,
    headers=("ETag",),
)
def issue_quote(quote_id: UUID, body: dict[str, Any]) -> Response:
    """The draft becomes the offer that the customer holds, valid from today in the office's time zone.

    An offer that was made before is superseded. Refused for a floor that must not be built so, and while
    assumptions are still to be accepted: the refusal lists them.
    """
    order = issuing.IssueOrder(**body)
    return _told(issuing.issue(session(), quote_id, expected_versions(), order, actor()))


@routes.operation(
    "POST",
    f"{ONE}/accept",
    "Accept a quote",
    scope="quotes",
    body=AcceptSchema,
    answer=QuoteSchema,
    example=examples.ACCEPT,
    changes=True,
    stores=True,
    headers=("ETag",),
)
def accept_quote(quote_id: UUID, body: dict[str, Any]) -> Response:
    """The customer took the offer, or some of its rooms. Refused where the revision is no longer on offer.

    Of a part the accepted figure takes each line by the share that the rooms need when they are built alone;
    what is shared with the rooms left out is marked, a delivery is taken whole.
    """
    scope = Scope(**{name: tuple(said) for name, said in body.pop("scope", {}).items()})
    said = answers.Acceptance(**body, scope=scope if scope != Scope() else None)
    return _told(answers.accept(session(), quote_id, expected_versions(), said, actor()))


@routes.operation(
    "POST",
    f"{ONE}/decline",
    "Decline a quote",
    scope="quotes",
    body=EndSchema,
    answer=QuoteSchema,
    example=examples.DECLINE,
    changes=True,
    stores=True,
    headers=("ETag",),
)
def decline_quote(quote_id: UUID, body: dict[str, Any]) -> Response:
    """The customer does not want the offer."""
    return _told(answers.decline(session(), quote_id, expected_versions(), *_end(body), actor()))


@routes.operation(
    "POST",
    f"{ONE}/withdraw",
    "Withdraw a quote",
    scope="quotes",
    body=EndSchema,
    answer=QuoteSchema,
    example=examples.WITHDRAW,
    changes=True,
    stores=True,
    headers=("ETag",),
)
def withdraw_quote(quote_id: UUID, body: dict[str, Any]) -> Response:
    """The office takes back the offer, or without one the draft."""
    return _told(answers.withdraw(session(), quote_id, expected_versions(), *_end(body), actor()))


@routes.operation(
    "POST",
    f"{ONE}/revisions",
    "Revise a quote",
    scope="quotes",
    body=QuoteRequestSchema,
    query=ViewQuery,
    answer=QuoteSchema,
    status=201,
    example=examples.QUOTE,
    patch_example=examples.QUOTE_PATCH,
    changes=True,
    stores=True,
    headers=("Location", "ETag"),
)
def revise_quote(quote_id: UUID, query: dict[str, Any]) -> Response:
    """A new draft, taken off and priced anew, beside the offer that the customer holds.

    The body is a whole request, or a merge patch (RFC 7396) onto that of the newest revision; lists such as
    `rooms` are replaced whole. A customer who is not named stays. A draft before it is superseded. Refused
    for an accepted quote: what changes then is a variation.
    """
    document, body = whole_or_patched(QuoteRequestSchema, lambda said: _patched(quote_id, said))
    request = request_of(body, document)
    quote = revising.revise(session(), quote_id, expected_versions(), request, actor())
    headers = {"Location": f"/v1/quotes/{quote.id}/revisions/{quote.revision}", **tagged(quote.version)}
    return reply(quote_answer(quote, query["view"]), 201, headers)


@routes.operation(
    "GET",
    f"{ONE}/revisions",
    "List a quote's revisions",
    scope="quotes",
    answer=RevisionsSchema,
    problems=(404,),
)
def get_quote_revisions(quote_id: UUID) -> dict[str, Any]:
    """The oldest first, each with what happened to it."""
    return {"items": revising.revisions(session(), quote_id)}


@routes.operation(
    "GET",
    f"{ONE}/revisions/<int:revision>",
    "Read a revision",
    scope="quotes",
    query=ViewQuery,
    answer=QuoteSchema,
    headers=("ETag",),
    problems=(404,),
)
def get_quote_revision(quote_id: UUID, revision: int, query: dict[str, Any]) -> Response:
    """A revision as it was written; `state` is its own. The ETag is the quote's."""
    quote = get_quote(session(), quote_id, revision)
    return reply(quote_answer(quote, query["view"]), 200, tagged(quote.version))


@routes.operation(
    "GET",
    f"{ONE}/revisions/<int:revision>/difference",
    "Compare two revisions",
    scope="quotes",
    query=DifferenceQuery,
    answer=RevisionDifferenceSchema,
    problems=(404,),
)
def compare_quote_revisions(quote_id: UUID, revision: int, query: dict[str, Any]) -> Any:
    """What moved from this revision to another, and how much of the total each cause explains.

    The causes are put in one after the other in a fixed order, each time taking off and pricing anew: rooms
    and finishes, the trade's values, labour rates, products and prices, terms. What a step moves is its part,
    so that the parts add up to the total exactly.
    """
    return comparing.difference(session(), quote_id, revision, query.get("to"))


@routes.operation(
    "POST",
    f"{ONE}/variations",
    "Quote a variation",
    scope="quotes",
    body=QuoteRequestSchema,
    query=ViewQuery,
    answer=QuoteSchema,
    status=201,
    example=examples.VARIATION,
    stores=True,
    headers=("Location", "ETag"),
    problems=(404,),
)
def vary_quote(quote_id: UUID, body: dict[str, Any], query: dict[str, Any]) -> Response:
    """What changes after acceptance, as a quote of its own under the accepted one, numbered after it.

    It is issued and accepted like any other; the accepted quote stays as it is. `day_work` of the request are
    hours charged at the rates that the terms have for them, which `day_work` of the answer tells.
    """
    quote = varying.vary(session(), quote_id, request_of(body, request_json()), actor())
    headers = {"Location": f"/v1/quotes/{quote.id}", **tagged(quote.version)}
    return reply(quote_answer(quote, query["view"]), 201, headers)


def _patched(quote_id: UUID, said: Any) -> dict[str, Any]:
    """What a patch goes onto; one that says who the customer is does away with who it was."""
    last = revising.last_request(session(), quote_id)
    return {name: value for name, value in last.items() if name != "customer_id" or "customer" not in said}


def _end(body: dict[str, Any]) -> tuple[int | None, str]:
    return body.get("revision"), body["reason"]


def _told(quote: StoredQuote) -> Response:
    return reply(quote_answer(quote), 200, tagged(quote.version))
