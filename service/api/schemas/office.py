"""Commercial terms, customers and trade values as sent and answered."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, get_args

import marshmallow as ma

from service.api.framework.fields import Flag, Keyed, Money, Number, Percent, Text, Whole, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.basket import BuyingSchema
from service.api.schemas.catalogue import Stored
from service.api.schemas.money import TaxRuleSchema
from service.api.schemas.people import NamedCustomerSchema
from service.takeoff.room import Standards
from service.trade.values import parse_edition

GROUPS = (
    "default",
    "tile",
    "setting",
    "waterproofing",
    "profiles",
    "preparation",
    "delivery",
    "labour",
    "other",
)


class UpliftSchema(RequestSchema):
    """A markup is a percentage of cost, a margin one of the selling price."""

    method = Word("markup", "margin", required=True)
    percent = Percent("1000", required=True)

    @ma.validates_schema
    def _leaves_cost(self, data: dict[str, Any], **_: Any) -> None:
        if data["method"] == "margin" and data["percent"] >= 100:
            raise ma.ValidationError("A margin is under 100 percent.", "percent")


class StageSchema(RequestSchema):
    name = Text(80, required=True)
    percent = Percent(required=True)


class AllowanceSchema(RequestSchema):
    """The stated price of a role whose product is not chosen yet."""

    role = Text(40, required=True)
    unit = Text(20, required=True)
    price = Money(required=True)


class RoundingSchema(RequestSchema):
    method = Word("half_up", "half_even", load_default="half_up")
    minor = Whole(0, 4, load_default=2)
    total_step = Money(allow_none=True, load_default=None)
    per = Word(
        "total",
        "line",
        load_default="total",
        metadata={"description": "percentages are taken, and rounded, of the sums or of each line"},
    )


class DayWorkSchema(RequestSchema):
    """The price of an hour beyond what was quoted, net of tax."""

    name = Text(80, required=True)
    hourly_price = Money(required=True)


class TermsSchema(RequestSchema):
    """Contingency, markup, discount, taxes, payments and rounding."""

    name = Text(required=True)
    is_default = Flag(load_default=False)
    contingency_percent = Percent(load_default=Decimal(0))
    uplifts = Keyed(keys=Word(*GROUPS), values=ma.fields.Nested(UpliftSchema))
    hourly_charge = Money(
        allow_none=True,
        load_default=None,
        metadata={
            "description": "what the customer pays for an hour, whatever the labour table says;"
            " null: as the table says, else cost with uplift"
        },
    )
    discount_percent = Percent(load_default=Decimal(0))
    minimum_charge = Money(
        allow_none=True, load_default=None, metadata={"description": "net is raised to it"}
    )
    taxes = ma.fields.List(ma.fields.Nested(TaxRuleSchema), validate=ma.validate.Length(max=10))
    tax_region = Text(
        80,
        allow_none=True,
        load_default=None,
        metadata={"description": "whose taxes in force on the tax date hold, in place of `taxes`"},
    )
    buyer = Word(
        "consumer",
        "business",
        allow_none=True,
        load_default=None,
        metadata={"description": "without it what the customer is"},
    )
    deposit_percent = Percent(load_default=Decimal(0))
    stages = ma.fields.List(ma.fields.Nested(StageSchema), validate=ma.validate.Length(max=20))
    retention_percent = Percent(load_default=Decimal(0))
    valid_days = Whole(1, 730, load_default=30)
    allowances = ma.fields.List(ma.fields.Nested(AllowanceSchema), validate=ma.validate.Length(max=50))
    rounding = ma.fields.Nested(RoundingSchema)
    day_work = ma.fields.List(
        ma.fields.Nested(DayWorkSchema),
        validate=ma.validate.Length(max=10),
        metadata={"description": "rates for hours beyond what is quoted"},
    )
    buying = ma.fields.Nested(BuyingSchema)

    @ma.validates_schema
    def _stages_fit(self, data: dict[str, Any], **_: Any) -> None:
        asked = data["deposit_percent"] + sum(stage["percent"] for stage in data.get("stages", ()))
        if asked > 100:
            raise ma.ValidationError("More than 100 percent in all, with the deposit.", "stages")

    @ma.validates_schema
    def _taxes_said_once(self, data: dict[str, Any], **_: Any) -> None:
        if data["tax_region"] is not None and data.get("taxes"):
            raise ma.ValidationError("Give taxes or tax_region, not both.", "tax_region")


class TermsAnswer(TermsSchema, Stored):
    class Meta(AnswerSchema.Meta): ...


class CustomerSchema(NamedCustomerSchema): ...


class CustomerAnswer(CustomerSchema, Stored):
    class Meta(AnswerSchema.Meta): ...

    erased_at = ma.fields.AwareDateTime(
        allow_none=True, metadata={"description": "when the personal data were erased"}
    )


def _is_edition(said: str) -> None:
    try:
        parse_edition(said)
    except ValueError as fault:
        raise ma.ValidationError("Give an edition as a take-off names it, such as 2026-01-01/us.") from fault


class TradeValuesQuery(RequestSchema):
    standards = Word(*get_args(Standards))
    on = ma.fields.Date(metadata={"description": "the values in force on this day; without it today"})
    edition = ma.fields.String(
        validate=_is_edition, metadata={"description": "that a take-off names; instead of standards and on"}
    )

    @ma.validates_schema
    def _edition_alone(self, data: dict[str, Any], **_: Any) -> None:
        if "edition" in data and len(data) > 1:
            raise ma.ValidationError("An edition has its standards and its day.", "edition")


class OwnValueSchema(RequestSchema):
    value = Number(0, 1_000_000, required=True)


class TradeValueSchema(AnswerSchema):
    key = ma.fields.String()
    value = ma.fields.Raw(metadata={"description": "a number, a word, or rows of a table"})
    unit = ma.fields.String()
    from_date = ma.fields.Date()
    source = ma.fields.String()
    tag = Word("standard", "common practice", "from memory", "derived")
    standards = ma.fields.String(allow_none=True)
    overridden = ma.fields.Boolean(metadata={"description": "whether it is the organisation's own"})


class TradeValuesSchema(AnswerSchema):
    standards = ma.fields.String()
    edition = ma.fields.String()
    items = ma.fields.List(ma.fields.Nested(TradeValueSchema))
