"""Variants of a job as asked for, and side by side."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Keyed, Percent, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.alternatives import AlternativeSchema, check_names, check_rooms
from service.api.schemas.compared import VariantAnswerSchema, compared
from service.api.schemas.office import GROUPS, UpliftSchema
from service.api.schemas.room import JobSchema
from service.quoting.variants import Comparison, Variant, difference

MOST_VARIANTS = 20


class TermsChangeSchema(RequestSchema):
    """What a variant changes of its terms; what is left out stays."""

    contingency_percent = Percent()
    discount_percent = Percent()
    uplifts = Keyed(keys=Word(*GROUPS), values=ma.fields.Nested(UpliftSchema))


class VariantSchema(AlternativeSchema):
    terms_id = ma.fields.UUID(metadata={"description": "without it those of the request"})
    terms = ma.fields.Nested(TermsChangeSchema)


class VariantsRequestSchema(JobSchema):
    """The rooms of a job and up to 20 variants of them; the first is what the others are compared with."""

    variants = ma.fields.List(
        ma.fields.Nested(VariantSchema), required=True, validate=ma.validate.Length(1, MOST_VARIANTS)
    )
    terms_id = ma.fields.UUID(metadata={"description": "without it the organisation's default terms"})
    price_date = ma.fields.Date(metadata={"description": "prices in force on this day; without it today's"})

    @ma.validates_schema
    def _rooms_are_there(self, data: dict[str, Any], **_: Any) -> None:
        check_rooms(data, "variants")
        check_names(data, "variants")


class VariantsComparedSchema(AnswerSchema):
    currency = ma.fields.String()
    price_date = ma.fields.Date()
    variants = ma.fields.List(ma.fields.Nested(VariantAnswerSchema))


def variants_answer(found: Comparison) -> dict[str, Any]:
    told = {
        "currency": found.basis.currency,
        "price_date": found.basis.day,
        "variants": [_told(variant, found.variants[0]) for variant in found.variants],
    }
    dumped: dict[str, Any] = VariantsComparedSchema().dump(told)
    return dumped


def _told(variant: Variant, first: Variant) -> Mapping[str, Any]:
    beside = difference((variant.takeoff, variant.priced), (first.takeoff, first.priced))
    return compared(variant.name, variant.takeoff, variant.priced, beside)
