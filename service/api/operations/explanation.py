"""Why a figure of a quote is what it is."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from flask import Response

from service.api.framework.context import session
from service.api.framework.problems import Fault, invalid
from service.api.framework.replies import reply
from service.api.framework.routes import Routes
from service.api.schemas.explanation import ExplanationQuery, ExplanationSchema, explanation_answer
from service.quoting.explanation import explain
from service.quoting.explanation.figures import UnknownFigure
from service.quoting.quotes import StoredQuote, get_quote

routes = Routes("explanation", __name__, url_prefix="/v1/quotes", description="Why a figure is what it is")


@routes.operation(
    "GET",
    "/<uuid:quote_id>/explanation",
    "Explain a figure of a quote",
    scope="quotes",
    query=ExplanationQuery,
    answer=ExplanationSchema,
    problems=(404,),
)
def explain_quote(quote_id: UUID, query: dict[str, Any]) -> Response:
    """The tree from which a figure came: inputs, trade values, rates, price rows, terms and roundings.

    Gross without `figure`, hours for a floor that is refused. Every value follows from those of its parts.
    With `option` the figures are those of that option, as if it were the quote.
    """
    quote = _asked(get_quote(session(), quote_id), query.get("option"))
    try:
        found = explain(session(), quote, query.get("figure"))
    except UnknownFigure as unknown:
        raise invalid(Fault(f"Nothing explains {unknown}.", parameter="figure")) from unknown
    return reply(explanation_answer(quote, found))


def _asked(quote: StoredQuote, name: str | None) -> StoredQuote:
    """The quote, or as it is with one of its options."""
    if name is None:
        return quote
    option = quote.option(name)
    if option is None:
        raise invalid(Fault(f"No option of this quote is called {name}.", parameter="option"))
    return quote.with_option(option)
