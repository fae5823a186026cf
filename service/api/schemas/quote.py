"""Quotes as asked for and as answered, for the office and for the customer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import marshmallow as ma

from service.api.framework.fields import Exact, Money, Whole, Word
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.answer import TakeoffSchema, takeoff_answer
from service.api.schemas.basket import BasketSchema, BuyingSchema
from service.api.schemas.people import NamedCustomerSchema
from service.api.schemas.quote_life import AcceptanceSchema
from service.api.schemas.room import JobSchema
from service.pricing.model import Line, Priced
from service.store.life import KINDS, QUOTE_STATES

if TYPE_CHECKING:
    from service.quoting.quotes import StoredQuote


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

    @ma.validates_schema
    def _one_customer(self, data: dict[str, Any], **_: Any) -> None:
        if "customer" in data and "customer_id" in data:
            raise ma.ValidationError("Give customer or customer_id, not both.", "customer_id")


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


class CuttingSchema(AnswerSchema):
    """How the sticks or rolls of a product were found, over all its lines."""

    cost = Money(places=14, minimum=None)
    bound = Money(places=14, minimum=None, metadata={"description": "no packs for these pieces cost less"})
    gap = Money(places=14, minimum=None, metadata={"description": "0: proven to be the cheapest"})
    method = ma.fields.String()
    joints = ma.fields.Integer(metadata={"description": "in runs longer than the longest stick or roll"})


class ExchangeSchema(AnswerSchema):
    """The rate by which a line's cost came from the supplier's currency."""

    id = ma.fields.String(metadata={"description": "of the row of /v1/exchange-rates"})
    currency = ma.fields.String()
    rate = Exact(metadata={"description": "what one unit of `currency` is worth in the quote's"})
    valid_from = ma.fields.Date()


class LineSchema(AnswerSchema):
    kind = Word("material", "labour", "delivery", "adjustment")
    role = ma.fields.String()
    group = ma.fields.String()
    description = ma.fields.String()
    unit = ma.fields.String()
    quantity = Exact(places=10, metadata={"description": "in the unit; of material, what is in the packs"})
    supplier = ma.fields.String(allow_none=True, metadata={"description": "the supplier's id"})
    supplier_name = ma.fields.String(allow_none=True)
    product = ma.fields.String(allow_none=True, metadata={"description": "the product's id"})
    packs = ma.fields.Integer(allow_none=True)
    pack_size = Exact(allow_none=True)
    cost = Money(places=14, metadata={"description": "of a pack, an hour or a unit"})
    amount = Money(places=2, minimum=None, metadata={"description": "at cost"})
    price = Money(places=2, minimum=None, metadata={"description": "what the customer pays, before discount"})
    price_list = ma.fields.String(allow_none=True)
    allowance = ma.fields.Boolean(metadata={"description": "a stated price or product, still to be chosen"})
    note = ma.fields.String()
    rooms = ma.fields.List(ma.fields.String())
    cutting = ma.fields.Nested(CuttingSchema, allow_none=True)
    exchange = ma.fields.Nested(ExchangeSchema, allow_none=True)


class TaxSchema(AnswerSchema):
    name = ma.fields.String()
    percent = Exact()
    base = Money(places=2, minimum=None)
    amount = Money(places=2, minimum=None)
    reverse_charge = ma.fields.Boolean(metadata={"description": "the customer accounts for the tax"})


class PaymentSchema(AnswerSchema):
    name = ma.fields.String()
    amount = Money(places=2, minimum=None)


class CustomerTotalsSchema(AnswerSchema):
    discount = Money(places=2, minimum=None)
    net = Money(places=2, minimum=None)
    tax = Money(places=2, minimum=None)
    taxes = ma.fields.List(ma.fields.Nested(TaxSchema))
    gross = Money(places=2, minimum=None)
    deposit = Money(places=2, minimum=None)
    stages = ma.fields.List(ma.fields.Nested(PaymentSchema))
    retention = Money(places=2, minimum=None)


class TotalsSchema(CustomerTotalsSchema):
    materials = Money(places=2, minimum=None)
    delivery = Money(places=2, minimum=None)
    labour = Money(places=2, minimum=None)
    contingency = Money(places=2, minimum=None)
    markup = Money(places=2, minimum=None)
    rounding = Money(places=2, minimum=None)
    minimum_charge = Money(
        places=2, minimum=None, metadata={"description": "by how much net was raised to the minimum charge"}
    )


class NoticeSchema(AnswerSchema):
    """What the office should know of the prices; the customer is not told."""

    rule = ma.fields.String()
    message = ma.fields.String()


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
    customer_id = ma.fields.UUID(allow_none=True)
    parent_id = ma.fields.UUID(allow_none=True)
    currency = ma.fields.String()
    gross = Money(places=2, minimum=None, allow_none=True)
    price_date = ma.fields.Date()
    valid_until = ma.fields.Date()
    created_at = ma.fields.AwareDateTime()
    prices_changed_at = ma.fields.AwareDateTime(allow_none=True)


class QuoteSchema(TakeoffSchema):
    """A quote for the office; `view=customer` leaves out costs, suppliers, quantities to buy and hours."""

    id = ma.fields.UUID()
    number = ma.fields.String()
    revision = ma.fields.Integer()
    state = Word(*KINDS, metadata={"description": "of this revision"})
    current_revision = ma.fields.Integer(metadata={"description": "the newest, maybe a draft"})
    offered_revision = ma.fields.Integer(allow_none=True, metadata={"description": "the newest issued"})
    parent_id = ma.fields.UUID(
        allow_none=True, metadata={"description": "the accepted quote that this varies"}
    )
    acceptance = ma.fields.Nested(AcceptanceSchema, allow_none=True)
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


class QuotePageSchema(AnswerSchema):
    items = ma.fields.List(ma.fields.Nested(QuoteHeadSchema), required=True)
    next = ma.fields.String(required=True, allow_none=True)


HEAD = (
    "id",
    "number",
    "revision",
    "state",
    "current_revision",
    "offered_revision",
    "parent_id",
    "day_work",
    "currency",
    "price_date",
    "valid_until",
    "created_at",
)
CUSTOMER_LINE = ("kind", "role", "description", "unit", "quantity", "price", "allowance", "rooms")
CUSTOMER_ROOM = ("name", "room", "measures", "layout", "findings")
CUSTOMER_TAKEOFF = ("standards", "rooms", "schedule", "refused", "cautions", "assumptions", "exclusions")


def quote_answer(quote: StoredQuote, view: str = "office") -> dict[str, Any]:
    """The quote in the names of QuoteSchema, for the office or for the customer."""
    takeoff = takeoff_answer(quote.takeoff, quote.body.get("display_units", "metric"))
    told = _for_office(quote, takeoff) if view == "office" else _for_customer(quote, takeoff)
    return {**told, **_head(quote)}


def _head(quote: StoredQuote) -> dict[str, Any]:
    dumped: dict[str, Any] = QuoteSchema(only=HEAD).dump(quote)
    here = f"/v1/quotes/{quote.id}"
    links = {"self": here, "plan": f"{here}/plan", "revisions": f"{here}/revisions"}
    return {**dumped, "customer": quote.customer, "acceptance": _acceptance(quote), "links": links}


def _acceptance(quote: StoredQuote) -> dict[str, Any] | None:
    """As it was kept: its figures are text already."""
    if quote.acceptance is None:
        return None
    return {**quote.acceptance, "accepted_at": quote.acceptance["accepted_at"].isoformat()}


def _for_office(quote: StoredQuote, takeoff: dict[str, Any]) -> dict[str, Any]:
    lines = quote.priced.lines if quote.priced else ()
    own = QuoteSchema(only=("versions", "prices_changed_at")).dump(quote)
    return {
        **takeoff,
        **own,
        "lines": LineSchema(many=True).dump(lines),
        "totals": _totals(quote.priced, TotalsSchema),
        "notices": NoticeSchema(many=True).dump(quote.priced.notices if quote.priced else ()),
        "basket": _basket(quote.priced),
    }


def _for_customer(quote: StoredQuote, takeoff: dict[str, Any]) -> dict[str, Any]:
    """Only what is listed here goes out, so that a new member of the office's view stays inside."""
    lines = quote.priced.lines if quote.priced else ()
    told = {name: takeoff[name] for name in CUSTOMER_TAKEOFF}
    told["rooms"] = [{name: room[name] for name in CUSTOMER_ROOM} for room in takeoff["rooms"]]
    return {
        **told,
        "lines": [_customer_line(line) for line in lines],
        "totals": _totals(quote.priced, CustomerTotalsSchema),
    }


def _customer_line(line: Line) -> dict[str, Any]:
    told: dict[str, Any] = LineSchema(only=CUSTOMER_LINE).dump(line)
    return {**told, "description": "Delivery"} if line.kind == "delivery" else told


def _basket(priced: Priced | None) -> dict[str, Any] | None:
    if priced is None or priced.basket is None:
        return None
    dumped: dict[str, Any] = BasketSchema().dump(priced.basket)
    return dumped


def _totals(priced: Priced | None, schema: type[ma.Schema]) -> dict[str, Any] | None:
    if priced is None or priced.totals is None:
        return None
    dumped: dict[str, Any] = schema().dump(priced.totals)
    return dumped
