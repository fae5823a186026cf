"""Quotes as asked for, as listed and as answered."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Exact, Money, Text, Whole, Word
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.alternatives import OptionSchema, check_names, check_rooms
from service.api.schemas.answer import TakeoffSchema
from service.api.schemas.basket import BasketSchema, BuyingSchema
from service.api.schemas.options import OptionAnswerSchema
from service.api.schemas.people import NamedCustomerSchema
from service.api.schemas.priced import LineSchema, NoticeSchema, TotalsSchema
from service.api.schemas.quote_life import AcceptanceSchema
from service.api.schemas.room import MAX_ROOMS, JobSchema, RoomSchema
from service.api.schemas.room_parts import many
from service.store.life import KINDS, QUOTE_STATES

MOST_OPTIONS = 20
MOST_DAY_WORK = 50


class DayWorkHoursSchema(RequestSchema):
    """Hours beyond those of the take-off, charged at a rate of the terms."""

    what = Text(200, required=True)
    rate = Text(80, required=True, metadata={"description": "the name of one of the terms' day-work rates"})
    hours = Exact(places=2, minimum="0.01", maximum="10000", required=True)


class QuoteRequestSchema(JobSchema):
    """The rooms of a job, for whom, and on which terms and prices."""

    customer = ma.fields.Nested(NamedCustomerSchema)
    customer_id = ma.fields.UUID()
    terms_id = ma.fields.UUID(metadata={"description": "without it the organisation's default terms"})
    price_date = ma.fields.Date(metadata={"description": "prices in force on this day; without it today's"})
    tax_date = ma.fields.Date(metadata={"description": "taxes in force on this day; without it price_date"})
    valid_days = Whole(1, 730)
    start_date = ma.fields.Date(
        metadata={
            "description": "when the goods must be there; suppliers who cannot deliver until then are out"
        }
    )
    buying = ma.fields.Nested(BuyingSchema)
    job_offers = ma.fields.List(
        ma.fields.String(validate=ma.validate.Length(1, 100)),
        validate=ma.validate.Length(max=20),
        metadata={"description": "references of price lists for this job, which count beside the others"},
    )
    options = ma.fields.List(
        ma.fields.Nested(OptionSchema),
        validate=ma.validate.Length(max=MOST_OPTIONS),
        metadata={"description": "alternatives to the whole, each priced; names differ"},
    )
    day_work = ma.fields.List(
        ma.fields.Nested(DayWorkHoursSchema),
        validate=ma.validate.Length(max=MOST_DAY_WORK),
        metadata={"description": "hours that come on top, each a line of its own, in options too"},
    )

    ballpark_token = Text(
        4000,
        metadata={"description": "of POST /v1/ballparks: its answers make the room where none are given"},
    )

    @ma.validates_schema
    def _one_customer(self, data: dict[str, Any], **_: Any) -> None:
        if "customer" in data and "customer_id" in data:
            raise ma.ValidationError("Give customer or customer_id, not both.", "customer_id")

    @ma.validates_schema
    def _options_can_be_told_apart(self, data: dict[str, Any], **_: Any) -> None:
        check_rooms(data, "options")
        check_names(data, "options")


class NewQuoteSchema(QuoteRequestSchema):
    """The rooms of a job, or the token of a ballpark in their place."""

    rooms = many(RoomSchema, MAX_ROOMS, least=1)

    @ma.validates_schema
    def _something_to_price(self, data: dict[str, Any], **_: Any) -> None:
        if "rooms" not in data and "ballpark_token" not in data:
            raise ma.ValidationError("Give rooms, or the token of a ballpark.", "rooms")


class ViewQuery(RequestSchema):
    view = Word("office", "customer", load_default="office")


class QuotesQuery(PageQuery):
    state = Word(*QUOTE_STATES)
    customer_id = ma.fields.UUID()
    parent_id = ma.fields.UUID(metadata={"description": "the quote that they are variations of"})
    product_id = ma.fields.UUID(metadata={"description": "a product that the standing revision buys"})
    created_from = ma.fields.Date()
    created_to = ma.fields.Date()
    valid_from = ma.fields.Date(metadata={"description": "valid on this day or longer"})
    valid_to = ma.fields.Date(metadata={"description": "not valid after this day"})


class DayWorkRateSchema(AnswerSchema):
    name = ma.fields.String()
    hourly_price = Money()


class VersionsSchema(AnswerSchema):
    trade_edition = ma.fields.String()
    labour_table = ma.fields.String()
    terms = ma.fields.String()
    taxes = ma.fields.String(metadata={"description": "the row of /v1/taxes, where terms name a region"})
    exchange_rates = ma.fields.String(metadata={"description": "of the rates that held, where any did"})
    engine = ma.fields.String()


class LinksSchema(AnswerSchema):
    self = ma.fields.String(metadata={"format": "uri-reference"})
    plan = ma.fields.String(metadata={"format": "uri-reference"})
    revisions = ma.fields.String(metadata={"format": "uri-reference"})


class QuoteHeadSchema(AnswerSchema):
    """A quote in a list."""

    id = ma.fields.UUID()
    number = ma.fields.String()
    revision = ma.fields.Integer()
    state = Word(*QUOTE_STATES)
    current_revision = ma.fields.Integer(metadata={"description": "the newest, maybe a draft"})
    offered_revision = ma.fields.Integer(allow_none=True, metadata={"description": "the newest issued"})
    draft_revision = ma.fields.Integer(
        allow_none=True, metadata={"description": "the newest while it is a draft, maybe beside an offer"}
    )
    customer_id = ma.fields.UUID(allow_none=True)
    parent_id = ma.fields.UUID(allow_none=True)
    currency = ma.fields.String()
    gross = Money(places=2, minimum=None, allow_none=True)
    price_date = ma.fields.Date()
    valid_until = ma.fields.Date()
    created_at = ma.fields.AwareDateTime()
    prices_changed_at = ma.fields.AwareDateTime(allow_none=True)


class FromBallparkSchema(AnswerSchema):
    """What the customer was told before, and what the quote's first room assumes of what was not said."""

    answers = ma.fields.Dict()
    low = Money()
    likely = Money()
    high = Money()
    currency = ma.fields.String()
    price_date = ma.fields.Date()
    assumed = ma.fields.List(ma.fields.String())


class QuoteSchema(TakeoffSchema):
    """A quote for the office; `view=customer` leaves out costs, suppliers, quantities to buy and hours."""

    id = ma.fields.UUID()
    number = ma.fields.String()
    revision = ma.fields.Integer()
    state = Word(*KINDS, metadata={"description": "of this revision"})
    current_revision = ma.fields.Integer(metadata={"description": "the newest, maybe a draft"})
    offered_revision = ma.fields.Integer(allow_none=True, metadata={"description": "the newest issued"})
    draft_revision = ma.fields.Integer(
        allow_none=True, metadata={"description": "the newest while it is a draft, maybe beside an offer"}
    )
    parent_id = ma.fields.UUID(
        allow_none=True, metadata={"description": "the accepted quote that this varies"}
    )
    acceptance = ma.fields.Nested(AcceptanceSchema, allow_none=True)
    options = ma.fields.List(ma.fields.Nested(OptionAnswerSchema))
    day_work = ma.fields.List(
        ma.fields.Nested(DayWorkRateSchema), metadata={"description": "for hours beyond this quote, net"}
    )
    customer = ma.fields.Dict(allow_none=True)
    lines = ma.fields.List(ma.fields.Nested(LineSchema))
    totals = ma.fields.Nested(TotalsSchema, allow_none=True)
    notices = ma.fields.List(ma.fields.Nested(NoticeSchema))
    basket = ma.fields.Nested(BasketSchema, allow_none=True)
    currency = ma.fields.String()
    price_date = ma.fields.Date()
    valid_until = ma.fields.Date()
    versions = ma.fields.Nested(VersionsSchema)
    created_at = ma.fields.AwareDateTime()
    prices_changed_at = ma.fields.AwareDateTime(allow_none=True)
    links = ma.fields.Nested(LinksSchema)
    ballpark = ma.fields.Nested(
        FromBallparkSchema, metadata={"description": "for the office, where the quote came from one"}
    )


class QuotePageSchema(AnswerSchema):
    items = ma.fields.List(ma.fields.Nested(QuoteHeadSchema), required=True)
    next = ma.fields.String(required=True, allow_none=True)
