"""Exchange rates and taxes as sent and answered."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Exact, Flag, Percent, Text, Word
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.catalogue import Stored, currency

NOTE = {"description": "where the figure is from; figures are the office's own"}


class Note(ma.fields.String):
    """Free text that may be empty."""

    def __init__(self) -> None:
        super().__init__(load_default="", validate=ma.validate.Length(max=500), metadata=NOTE)


class ExchangeRateSchema(RequestSchema):
    """What one unit of `from_currency` is worth in `to_currency`, from a day on."""

    from_currency = currency(required=True)
    to_currency = currency(required=True)
    rate = Exact(places=10, required=True)
    valid_from = ma.fields.Date(required=True)
    note = Note()

    @ma.validates("rate")
    def _worth_something(self, value: Decimal, data_key: str) -> None:
        if not value:
            raise ma.ValidationError("Must be more than 0.")

    @ma.validates_schema
    def _two_currencies(self, data: dict[str, Any], **_: Any) -> None:
        if data["from_currency"] == data["to_currency"]:
            raise ma.ValidationError("Must be another currency.", "to_currency")


class ExchangeRateAnswer(ExchangeRateSchema, Stored):
    class Meta(AnswerSchema.Meta): ...


class InForceQuery(PageQuery):
    on = ma.fields.Date(metadata={"description": "only what holds on this day, all of it on one page"})


class ExchangeRatesQuery(InForceQuery):
    from_currency = currency()
    to_currency = currency()


class TaxRuleSchema(RequestSchema):
    """A tax at its rate, of materials with their delivery, of labour, or of all."""

    name = Text(80, required=True)
    percent = Percent(required=True)
    base = Word("materials", "labour", "all", load_default="all")
    reverse_charge = Flag(
        load_default=False,
        metadata={"description": "a business customer accounts for it and is charged none"},
    )


class TaxesSchema(RequestSchema):
    """The taxes of a region from a day on; no rules where there is no tax."""

    region = Text(80, required=True)
    valid_from = ma.fields.Date(required=True)
    rules = ma.fields.List(
        ma.fields.Nested(TaxRuleSchema), required=True, validate=ma.validate.Length(max=10)
    )
    note = Note()


class TaxesAnswer(TaxesSchema, Stored):
    class Meta(AnswerSchema.Meta): ...


class TaxesQuery(InForceQuery):
    region = Text(80)
