"""The crew sheet as answered."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Rounded
from service.api.framework.schema import AnswerSchema
from service.api.schemas.answer import InstructionSchema, MeasuresSchema, ScheduleSchema, WaitSchema
from service.api.schemas.figures import metres, millimetres, position
from service.api.schemas.layout import CutTileSchema
from service.api.schemas.lists import OfQuoteSchema, of_quote
from service.api.schemas.quantities import LabourLineSchema
from service.quoting.crew_sheet import CrewSheet, RoomSheet
from service.quoting.crew_sheet.mixing import AS_THE_BAG_SAYS, Mixing
from service.quoting.quotes import StoredQuote


class MixedForSchema(AnswerSchema):
    room = ma.fields.String()
    powder_kg = Rounded(3)


class BatchSchema(AnswerSchema):
    count = ma.fields.Integer()
    powder_kg = Rounded(3)
    water_least_l = Rounded(1, allow_none=True, metadata={"description": "null: as the bag says"})
    water_most_l = Rounded(1, allow_none=True)


class MixingSchema(AnswerSchema):
    """A powder, its water and its batches; what the bag says goes before what is told here."""

    role = ma.fields.String()
    description = ma.fields.String()
    powder_kg = Rounded(3)
    by_room = ma.fields.List(ma.fields.Nested(MixedForSchema))
    batches = ma.fields.List(ma.fields.Nested(BatchSchema))
    water_source = ma.fields.String()
    batch_source = ma.fields.String()


class RoomSheetSchema(AnswerSchema):
    name = ma.fields.String()
    measures = ma.fields.Nested(MeasuresSchema)
    origin = position(
        allow_none=True, metadata={"description": "[x, y] in mm; null where nothing is laid out"}
    )
    rotation_deg = Rounded(3)
    joint_mm = millimetres()
    perimeter_joint_mm = millimetres()
    tiles_needed = ma.fields.Integer()
    cut_length_m = metres()
    cut_list = ma.fields.List(ma.fields.Nested(CutTileSchema))
    conditions = ma.fields.List(ma.fields.String(), metadata={"description": "what must be seen to"})


class WorkStageSchema(AnswerSchema):
    name = ma.fields.String()
    work = ma.fields.List(ma.fields.Nested(LabourLineSchema))
    instructions = ma.fields.List(ma.fields.Nested(InstructionSchema))
    waits = ma.fields.List(ma.fields.Nested(WaitSchema))


class CrewSheetSchema(OfQuoteSchema):
    rooms = ma.fields.List(ma.fields.Nested(RoomSheetSchema))
    mixing = ma.fields.List(ma.fields.Nested(MixingSchema))
    stages = ma.fields.List(
        ma.fields.Nested(WorkStageSchema), metadata={"description": "in the order of work"}
    )
    tools = ma.fields.List(ma.fields.String())
    cautions = ma.fields.List(ma.fields.String())
    schedule = ma.fields.Nested(ScheduleSchema)


def crew_answer(quote: StoredQuote, sheet: CrewSheet) -> dict[str, Any]:
    told = {
        **of_quote(quote),
        "rooms": [_room(room) for room in sheet.rooms],
        "mixing": [_mixing(each) for each in sheet.mixing],
        "stages": sheet.stages,
        "tools": sheet.tools,
        "cautions": sheet.cautions,
        "schedule": sheet.schedule,
    }
    dumped: dict[str, Any] = CrewSheetSchema().dump(told)
    return dumped


def _room(sheet: RoomSheet) -> dict[str, Any]:
    layout = sheet.takeoff.layout
    return {
        "name": sheet.room.name,
        "measures": sheet.takeoff.measures,
        "origin": layout.origin,
        "rotation_deg": layout.plan.lattice.rotation_deg if layout.plan else sheet.room.pattern.rotation,
        "joint_mm": sheet.room.joint,
        "perimeter_joint_mm": sheet.room.perimeter_joint,
        "tiles_needed": layout.tiles_needed,
        "cut_length_m": layout.cut_length_m,
        "cut_list": sheet.cut_list,
        "conditions": sheet.conditions,
    }


def _mixing(mixing: Mixing) -> dict[str, Any]:
    full, last = (mixing.full_batches, mixing.batch_kg), (1, mixing.last_batch_kg)
    return {
        "role": mixing.role,
        "description": mixing.description,
        "powder_kg": mixing.powder_kg,
        "by_room": [{"room": share.room, "powder_kg": share.quantity} for share in mixing.by_room],
        "batches": [_batch(mixing, count, powder) for count, powder in (full, last) if count],
        "water_source": mixing.water.source if mixing.water else AS_THE_BAG_SAYS,
        "batch_source": mixing.batch_source,
    }


def _batch(mixing: Mixing, count: int, powder_kg: float) -> dict[str, Any]:
    least, most = mixing.water_l(powder_kg) or (None, None)
    return {"count": count, "powder_kg": powder_kg, "water_least_l": least, "water_most_l": most}
