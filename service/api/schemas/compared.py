"""A floor beside another: its findings, totals and time, and how much more it costs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Money, Rounded
from service.api.framework.schema import AnswerSchema, made
from service.api.schemas.answer import FindingSchema
from service.api.schemas.figures import hours
from service.api.schemas.priced import TotalsSchema
from service.pricing.model import Priced
from service.quoting.variants import Difference
from service.quoting.variants.differences import groups_of
from service.takeoff.answer import Takeoff


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


def compared(
    name: str, takeoff: Takeoff, priced: Priced | None, difference: Difference | None
) -> Mapping[str, Any]:
    """A floor in the names of VariantAnswerSchema."""
    layouts = [room.layout for room in takeoff.rooms]
    tiled = sum(layout.tiled_area_m2 for layout in layouts)
    bought = sum(layout.tiled_area_m2 * (1 + layout.wastage_percent / 100) for layout in layouts)
    return {
        "name": name,
        "refused": takeoff.refused,
        "findings": _findings(takeoff),
        "totals": priced and priced.totals,
        "groups": priced and groups_of(priced),
        "difference": difference,
        "labour_hours": takeoff.labour_hours.total,
        "visits": takeoff.schedule.visits,
        "working_days": takeoff.schedule.working_days,
        "tiles_needed": sum(layout.tiles_needed for layout in layouts),
        "wastage_percent": 100 * (bought / tiled - 1) if tiled else 0.0,
    }


def _findings(takeoff: Takeoff) -> list[dict[str, Any]]:
    dump = made(VariantFindingSchema, exclude=("room",)).dump
    return [
        {"room": room.name, **dump(found)}
        for room in takeoff.rooms
        for found in room.findings
        if found.verdict != "pass"
    ]
