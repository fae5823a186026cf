"""The options of a quote as answered, for the office and for the customer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import marshmallow as ma

from service.api.framework.schema import made
from service.api.schemas.compared import VariantAnswerSchema, compared
from service.api.schemas.priced import CustomerTotalsSchema, LineSchema, customer_line

if TYPE_CHECKING:
    from service.quoting.quotes import StoredQuote
    from service.quoting.quotes.alternatives import Option

CUSTOMER = ("name", "note", "changes", "rooms", "refused", "findings", "visits", "working_days")
CUSTOMER_DIFFERENCE = ("net", "gross")


class OptionAnswerSchema(VariantAnswerSchema):
    """An alternative to the whole quote; totals, difference and lines are empty where it is refused.

    A customer is told nothing of hours, groups and parts of the difference.
    """

    note = ma.fields.String(allow_none=True)
    changes = ma.fields.Dict(metadata={"description": "as asked for"})
    rooms = ma.fields.List(ma.fields.Integer(), allow_none=True)
    lines = ma.fields.List(ma.fields.Nested(LineSchema))


def options_answer(quote: StoredQuote, view: str) -> list[dict[str, Any]]:
    """Each option beside the quote that it may take the place of."""
    return [_told(quote, option, view) for option in quote.options]


def _told(quote: StoredQuote, option: Option, view: str) -> dict[str, Any]:
    beside = option.beside(quote.takeoff, quote.priced)
    lines = option.priced.lines if option.priced else ()
    asked = {name: option.body.get(name) for name in ("note", "rooms")}
    asked["changes"] = option.body.get("changes", {})
    told = {**compared(option.name, option.takeoff, option.priced, beside), **asked, "lines": lines}
    dumped: dict[str, Any] = made(OptionAnswerSchema).dump(told)
    if view == "office":
        return dumped
    kept = {name: dumped[name] for name in CUSTOMER}
    totals = made(CustomerTotalsSchema).dump(option.totals) if option.totals else None
    moved = dumped["difference"] and {name: dumped["difference"][name] for name in CUSTOMER_DIFFERENCE}
    return {**kept, "totals": totals, "difference": moved, "lines": [customer_line(line) for line in lines]}
