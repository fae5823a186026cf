"""Variants of a job as asked for, and side by side."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Keyed, Money, Percent, Rounded, Text, Whole, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.answer import FindingSchema
from service.api.schemas.figures import hours
from service.api.schemas.office import GROUPS, UpliftSchema
from service.api.schemas.priced import TotalsSchema
from service.api.schemas.room import MAX_ROOMS, JobSchema, RoomSchema
from service.quoting.variants import Comparison, Variant, difference
from service.quoting.variants.differences import groups_of

MOST_VARIANTS = 20
NOT_CHANGED = ("name",)
CHANGED = tuple(name for name in RoomSchema().fields if name not in NOT_CHANGED)
_CHANGES = """a merge patch (RFC 7396) on the rooms, such as {"tile": {...}, "membrane": null}. A tile told by
product takes the place of one told by measures, and the other way round; null is kept where a room may say
null, and takes the member away elsewhere""".replace("\n", " ")


class Changes(Keyed):
    """Members of a room by name; what they hold is checked in the room that they make."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(keys=Word(*CHANGED), values=ma.fields.Raw(allow_none=True), **kwargs)


class TermsChangeSchema(RequestSchema):
    """What a variant changes of its terms; what is left out stays."""

    contingency_percent = Percent()
    discount_percent = Percent()
    uplifts = Keyed(keys=Word(*GROUPS), values=ma.fields.Nested(UpliftSchema))


class VariantSchema(RequestSchema):
    name = Text(120, required=True)
    changes = Changes(load_default=dict, metadata={"description": _CHANGES})
    rooms = ma.fields.List(
        Whole(0, MAX_ROOMS - 1),
        validate=ma.validate.Length(1, MAX_ROOMS),
        metadata={"description": "numbers of the rooms that are changed, from 0; all where left out"},
    )
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
        last = len(data.get("rooms", ())) - 1
        for place, variant in enumerate(data.get("variants", ())):
            for i, number in enumerate(variant.get("rooms", ())):
                if number > last:
                    told = f"The job has rooms 0 to {last}."
                    raise ma.ValidationError({"variants": {place: {"rooms": {i: [told]}}}})


class VariantFindingSchema(FindingSchema):
    room = ma.fields.String()


class DifferenceSchema(AnswerSchema):
    """To the first variant; what costs more is above zero."""

    net = Money(places=2, minimum=None)
    gross = Money(places=2, minimum=None)
    causes = ma.fields.Dict(
        keys=ma.fields.String(),
        values=Money(places=2, minimum=None),
        metadata={"description": "parts of the totals, discount counted against them: they add up to gross"},
    )
    groups = ma.fields.Dict(
        keys=ma.fields.String(),
        values=Money(places=2, minimum=None),
        metadata={"description": "prices by group of lines: they add up to net"},
    )
    labour_hours = hours()


class VariantAnswerSchema(AnswerSchema):
    """One variant; totals, groups and difference are null where a finding refuses its floor."""

    name = ma.fields.String()
    refused = ma.fields.Boolean()
    findings = ma.fields.List(
        ma.fields.Nested(VariantFindingSchema), metadata={"description": "conditions and refusals"}
    )
    totals = ma.fields.Nested(TotalsSchema, allow_none=True)
    groups = ma.fields.Dict(keys=ma.fields.String(), values=Money(places=2, minimum=None), allow_none=True)
    difference = ma.fields.Nested(DifferenceSchema, allow_none=True)
    labour_hours = hours()
    visits = ma.fields.Integer()
    working_days = ma.fields.Integer()
    tiles_needed = ma.fields.Integer()
    wastage_percent = Rounded(2, metadata={"description": "of all rooms, by area of tile"})


class VariantsSchema(AnswerSchema):
    currency = ma.fields.String()
    price_date = ma.fields.Date()
    variants = ma.fields.List(ma.fields.Nested(VariantAnswerSchema))


def variants_answer(compared: Comparison) -> dict[str, Any]:
    told = {
        "currency": compared.basis.currency,
        "price_date": compared.basis.day,
        "variants": [_told(variant, compared.variants[0]) for variant in compared.variants],
    }
    dumped: dict[str, Any] = VariantsSchema().dump(told)
    return dumped


def _told(variant: Variant, first: Variant) -> dict[str, Any]:
    takeoff, priced = variant.takeoff, variant.priced
    layouts = [room.layout for room in takeoff.rooms]
    tiled = sum(layout.tiled_area_m2 for layout in layouts)
    bought = sum(layout.tiled_area_m2 * (1 + layout.wastage_percent / 100) for layout in layouts)
    return {
        "name": variant.name,
        "refused": takeoff.refused,
        "findings": _findings(variant),
        "totals": priced and priced.totals,
        "groups": priced and groups_of(priced),
        "difference": difference(variant, first),
        "labour_hours": takeoff.labour_hours.total,
        "visits": takeoff.schedule.visits,
        "working_days": takeoff.schedule.working_days,
        "tiles_needed": sum(layout.tiles_needed for layout in layouts),
        "wastage_percent": 100 * (bought / tiled - 1) if tiled else 0.0,
    }


def _findings(variant: Variant) -> list[dict[str, Any]]:
    dump = VariantFindingSchema(exclude=("room",)).dump
    return [
        {"room": room.name, **dump(found)}
        for room in variant.takeoff.rooms
        for found in room.findings
        if found.verdict != "pass"
    ]
