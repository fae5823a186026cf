"""Labour tables as sent and answered."""

from __future__ import annotations

from typing import Any, get_args

import marshmallow as ma

from service.api.framework.fields import Exact, Money, Text, Whole, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.catalogue import Stored, currency
from service.takeoff.answer import Driver


class LabourRateSchema(RequestSchema):
    """Crew-member hours per unit of one activity."""

    activity = Text(60, required=True)
    driver = Word(*get_args(Driver), required=True)
    unit = Text(20, required=True)
    hours = Exact(places=6, maximum="1000", required=True)


class LabourTableSchema(RequestSchema):
    """Rates from a day on, with the crew, its day and the price of an hour."""

    name = Text(required=True)
    valid_from = ma.fields.Date(required=True)
    crew = Whole(1, 50, required=True)
    productive_hours_per_day = Exact(places=3, maximum="24", required=True)
    minimum_hours = Exact(places=3, maximum="999", required=True)
    hourly_cost = Money(required=True)
    hourly_charge = Money(
        allow_none=True,
        load_default=None,
        metadata={"description": "what the customer pays for an hour, in place of cost with uplift"},
    )
    crew_name = Text(
        80, allow_none=True, load_default=None, metadata={"description": "null: the office's usual crew"}
    )
    currency = currency(required=True)
    rates = ma.fields.List(
        ma.fields.Nested(LabourRateSchema), required=True, validate=ma.validate.Length(1, 300)
    )

    @ma.validates("productive_hours_per_day")
    def _some(self, value: Any, data_key: str) -> None:
        if not value:
            raise ma.ValidationError("Must be more than 0.")

    @ma.validates_schema
    def _one_rate_each(self, data: dict[str, Any], **_: Any) -> None:
        seen: set[str] = set()
        for place, rate in enumerate(data["rates"]):
            if rate["activity"] in seen:
                raise ma.ValidationError(
                    {"rates": {place: {"activity": ["This activity has a rate already."]}}}
                )
            seen.add(rate["activity"])


class LabourTableAnswer(LabourTableSchema, Stored):
    class Meta(AnswerSchema.Meta): ...


class LabourTableHead(LabourTableAnswer):
    """A labour table in a list, without its rates."""

    class Meta(AnswerSchema.Meta):
        exclude = ("rates",)
