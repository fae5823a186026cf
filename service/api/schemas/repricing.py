"""Repricings as sent and answered."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Exact, Money, Percent, Word
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.store.models.repricing import OUTCOMES, STATES
from service.store.repricing.selection import STATES as QUOTE_STATES
from service.store.webhooks import COUNTS

MOST_IDS = 1000
PLACES = 4


def _ids(what: str) -> Any:
    return ma.fields.List(
        ma.fields.UUID(), validate=ma.validate.Length(1, MOST_IDS), metadata={"description": what}
    )


class RepricingSelectSchema(RequestSchema):
    """Which quotes; what is left out asks nothing. Days are the office's own, both ends counted in."""

    states = ma.fields.List(
        Word(*QUOTE_STATES),
        validate=ma.validate.Length(1, len(QUOTE_STATES)),
        metadata={"description": "without it all three; accepted quotes are told of and never touched"},
    )
    created_from = ma.fields.Date()
    created_to = ma.fields.Date()
    valid_from = ma.fields.Date(metadata={"description": "offers valid until this day or later"})
    valid_to = ma.fields.Date(metadata={"description": "offers valid until this day or earlier"})
    customers = _ids("quotes of these customers")
    products = _ids("quotes that hold one of these products")
    price_list = ma.fields.UUID(metadata={"description": "quotes that hold a product of this active list"})


class RepricingLimitsSchema(RequestSchema):
    """Only changes of the total by so much count; where both are given one is enough."""

    percent = Percent(maximum="10000")
    amount = Money()


class RepricingSchema(RequestSchema):
    select = ma.fields.Nested(RepricingSelectSchema, load_default=dict)
    price_date = ma.fields.Date(
        load_default=None, allow_none=True, metadata={"description": "without it the day on which it begins"}
    )
    mode = Word("preview", "revise", required=True)
    choice = Word(
        "keep",
        "choose",
        load_default="keep",
        metadata={"description": "keep each quote's products and suppliers, or make its basket anew"},
    )
    threshold = Money(
        load_default=Decimal(0),
        metadata={
            "description": "a new basket is taken where its goods, delivered, cost less by more than this"
        },
    )
    limits = ma.fields.Nested(RepricingLimitsSchema, load_default=dict)
    margin_floor_percent = Percent(
        load_default=Decimal(0),
        metadata={"description": "offers whose net leaves less than this over their new cost are told of"},
    )


class RepricedCountsSchema(AnswerSchema):
    """Quotes that were selected, and of these visited; of those visited some change."""

    selected = ma.fields.Integer(allow_none=True)
    visited = ma.fields.Integer()
    changed = ma.fields.Integer()
    revised = ma.fields.Integer()
    within_limits = ma.fields.Integer()
    conflicts = ma.fields.Integer()
    unpriceable = ma.fields.Integer()


class RepricingCountsSchema(RepricedCountsSchema):
    """Quotes: selected = visited + untouched once the run is done; of those visited some change."""

    untouched = ma.fields.Integer(
        allow_none=True, metadata={"description": "hold nothing that changed, so that no work was done"}
    )


class RepricingMoverSchema(AnswerSchema):
    quote_id = ma.fields.UUID()
    number = ma.fields.String()
    state = ma.fields.String()
    old_gross = Money(PLACES, None)
    new_gross = Money(PLACES, None)
    moved = Money(PLACES, None)


class RepricingThinSchema(AnswerSchema):
    quote_id = ma.fields.UUID()
    number = ma.fields.String()
    state = ma.fields.String()
    net = Money(PLACES, None, metadata={"description": "what the customer was offered"})
    cost = Money(PLACES, None, metadata={"description": "at the new prices"})
    left_over = Money(PLACES, None)


class RepricingSummarySchema(AnswerSchema):
    moved_gross = Money(PLACES, None, metadata={"description": "by how much the totals of open quotes move"})
    exposure = Money(
        PLACES, None, metadata={"description": "by how much offers and accepted work cost the office more"}
    )
    movers = ma.fields.List(ma.fields.Nested(RepricingMoverSchema))
    under_floor = ma.fields.Integer(metadata={"description": "offers and accepted work under the floor"})
    thin = ma.fields.List(
        ma.fields.Nested(RepricingThinSchema),
        metadata={"description": "the ten of these with the least left over"},
    )
    accepted_lost = ma.fields.Integer(metadata={"description": "accepted quotes that cost more by now"})
    accepted_lost_amount = Money(PLACES, None)


class RepricingAnswer(AnswerSchema):
    id = ma.fields.UUID()
    created_at = ma.fields.AwareDateTime()
    state = Word(*STATES)
    failure = ma.fields.String(allow_none=True)
    mode = ma.fields.String()
    choice = ma.fields.String()
    select = ma.fields.Dict()
    price_date = ma.fields.Date(allow_none=True)
    threshold = Money(PLACES)
    limits = ma.fields.Dict()
    margin_floor_percent = Exact(PLACES)
    began_at = ma.fields.AwareDateTime(allow_none=True)
    ended_at = ma.fields.AwareDateTime(allow_none=True)
    counts = ma.fields.Nested(RepricingCountsSchema)
    percent = ma.fields.Float()
    quotes_per_s = ma.fields.Float(allow_none=True)
    left_s = ma.fields.Float(allow_none=True)
    summary = ma.fields.Nested(RepricingSummarySchema, allow_none=True)


class RepricingsPage(AnswerSchema):
    items = ma.fields.List(ma.fields.Nested(RepricingAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


class RepricingChangesQuery(PageQuery):
    outcome = Word(*OUTCOMES)


CAUSES = ("price", "allowance", "exchange_rate", "supplier", "basket", "on_cost", "terms", "tax")


class RepricingCauseSchema(AnswerSchema):
    """A part of the difference in gross; together they are the whole.

    price: a product's price; allowance: a stated one; exchange_rate; supplier: delivery, freight and
    surcharges; basket: other products or suppliers; on_cost: contingency, markup, discount, rounding and tax
    on all that; terms and tax: other terms or taxes than before.
    """

    kind = Word(*CAUSES)
    product_id = ma.fields.UUID(allow_none=True)
    supplier_id = ma.fields.UUID(allow_none=True)
    amount = Money(PLACES, None)


class RepricingChangeSchema(AnswerSchema):
    quote_id = ma.fields.UUID()
    outcome = Word(*OUTCOMES)
    state = ma.fields.String(metadata={"description": "of the quote"})
    revision = ma.fields.Integer()
    new_revision = ma.fields.Integer(allow_none=True)
    old_cost = Money(PLACES, None, allow_none=True)
    old_net = Money(PLACES, None, allow_none=True)
    old_gross = Money(PLACES, None, allow_none=True)
    new_cost = Money(PLACES, None, allow_none=True)
    new_net = Money(PLACES, None, allow_none=True)
    new_gross = Money(PLACES, None, allow_none=True)
    causes = ma.fields.List(ma.fields.Nested(RepricingCauseSchema))
    note = ma.fields.String()


class RepricingChangesPage(AnswerSchema):
    items = ma.fields.List(ma.fields.Nested(RepricingChangeSchema), required=True)
    next = ma.fields.String(required=True, allow_none=True)


def repricing_answer(run: Any, progress: Any) -> dict[str, Any]:
    """A run in the names of RepricingAnswer."""
    limits = {"percent": run.limit_percent, "amount": run.limit_amount}
    told: dict[str, Any] = RepricingAnswer().dump(
        {
            **{name: getattr(run, name) for name in OF_RUN},
            **{name: getattr(progress, name) for name in ("percent", "quotes_per_s", "left_s")},
            "select": _selected(run),
            "limits": {},
            "counts": _counts(run),
            "summary": _exact(run.summary),
        }
    )
    told["limits"] = RepricingLimitsSchema().dump(
        {name: value for name, value in limits.items() if value is not None}
    )
    return told


OF_RUN = (
    "id", "created_at", "state", "failure", "mode", "choice", "price_date", "threshold",
    "margin_floor_percent", "began_at", "ended_at",
)  # fmt: skip


def _selected(run: Any) -> dict[str, Any]:
    listed = {} if run.price_list_id is None else {"price_list": str(run.price_list_id)}
    return {**run.selection, **listed}


def _counts(run: Any) -> dict[str, int | None]:
    counts = {name: getattr(run, name) for name in COUNTS}
    return {**counts, "untouched": run.selected - run.visited if run.state == "done" else None}


def _exact(summary: Any) -> Any:
    """Stored amounts are text: decimals again, to be told as all others are."""
    if isinstance(summary, list):
        return [_exact(one) for one in summary]
    if isinstance(summary, dict):
        return {name: Decimal(value) if name in MONEY else _exact(value) for name, value in summary.items()}
    return summary


MONEY = (
    "moved_gross", "exposure", "accepted_lost_amount", "old_gross", "new_gross", "moved", "net", "cost",
    "left_over",
)  # fmt: skip
