"""The take-off as answered: figures rounded here and nowhere before, US figures beside them where asked.

Metres and square metres have 3 decimals, millimetres 2, hours 2, kilograms 3.
"""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Word
from service.api.framework.schema import AnswerSchema, made
from service.api.schemas.figures import hours, metres, millimetres, position, ring
from service.api.schemas.layout import CutTileSchema, LayoutSchema
from service.api.schemas.quantities import LabourHoursSchema, LabourLineSchema, MaterialSchema
from service.api.schemas.us_figures import with_us_figures
from service.quoting.understood import room_as_understood
from service.takeoff.answer import RoomTakeoff, Takeoff
from service.takeoff.cut_list import cut_list_of
from service.takeoff.room import Outline, Room


class MeasuresSchema(AnswerSchema):
    floor_area_m2 = metres(metadata={"description": "the shape less columns, fixtures and stairs"})
    perimeter_m = metres()
    wall_length_m = metres(metadata={"description": "walls and restraining obstructions less doorways"})
    inside_corners = ma.fields.Integer()
    outside_corners = ma.fields.Integer()


class StripSchema(AnswerSchema):
    start = position()
    end = position()
    width_mm = millimetres()
    length_m = metres()


class MembraneLayoutSchema(AnswerSchema):
    strips = ma.fields.List(ma.fields.Nested(StripSchema))
    seam_length_m = metres()
    rolls = ma.fields.Integer(
        metadata={"description": "of the usual roll, for orientation; pricing buys rolls"}
    )
    rolls_bound = ma.fields.Integer(
        metadata={"description": "no way to cut these strips, laid as they are, takes fewer rolls"}
    )
    rolls_gap = ma.fields.Integer(metadata={"description": "0: proven to be the fewest"})
    rolls_method = ma.fields.String(metadata={"description": "the last step of the search for them"})
    area_m2 = metres(metadata={"description": "of roll cut off, narrow strips ripped side by side"})


class WaterproofingSchema(AnswerSchema):
    band_length_m = metres(metadata={"description": "seams and wall bases, without laps"})
    wall_band_m = metres(metadata={"description": "of it along wall bases, without laps"})
    inside_corners = ma.fields.Integer()
    outside_corners = ma.fields.Integer()
    pipe_seals = ma.fields.Integer()
    drain_seals = ma.fields.Integer()
    upstand_mm = millimetres(
        allow_none=True, metadata={"description": "how far over the finished floor the wall is sealed"}
    )


class MovementJointsSchema(AnswerSchema):
    perimeter_length_m = metres()
    field_length_m = metres()
    doorway_length_m = metres()
    width_mm = millimetres()
    max_spacing_m = metres(metadata={"description": "the strictest of all that hold on this floor"})
    parts = ma.fields.Integer(metadata={"description": "that the joints leave of the field"})
    longest_part_m = metres()
    largest_part_m2 = metres()
    lines = ma.fields.List(ring(), metadata={"description": "in the field and at doorways, [x, y] in mm"})


class ProfileSchema(AnswerSchema):
    kind = Word("edge", "transition", "skirting", "cove", "movement_joint")
    length_m = metres()
    height_mm = millimetres()
    place = ma.fields.String()


class FindingSchema(AnswerSchema):
    rule = ma.fields.String()
    verdict = Word("pass", "condition", "refuse")
    message = ma.fields.String()
    source = ma.fields.String()
    asks = ma.fields.String(metadata={"description": "the fact that is missing; empty where none is"})
    accept = ma.fields.Boolean(metadata={"description": "must be accepted before a quote is issued"})


class RoomAnswerSchema(AnswerSchema):
    name = ma.fields.String()
    room = ma.fields.Dict(metadata={"description": "the room as understood, in the names of a request"})
    closing_error_mm = millimetres(metadata={"description": "by how much a run of walls missed its start"})
    measures = ma.fields.Nested(MeasuresSchema)
    layout = ma.fields.Nested(LayoutSchema)
    membrane = ma.fields.Nested(MembraneLayoutSchema, allow_none=True)
    waterproofing = ma.fields.Nested(WaterproofingSchema, allow_none=True)
    movement_joints = ma.fields.Nested(MovementJointsSchema)
    profiles = ma.fields.List(ma.fields.Nested(ProfileSchema))
    findings = ma.fields.List(ma.fields.Nested(FindingSchema))
    folds = ma.fields.List(
        ring(), metadata={"description": "lines along which a floor laid to falls folds, [x, y] in mm"}
    )
    cut_list = ma.fields.List(
        ma.fields.Nested(CutTileSchema), metadata={"description": "with ?cut_list=true"}
    )


class WaitSchema(AnswerSchema):
    after = ma.fields.String()
    hours = hours()
    source = ma.fields.String()


class ScheduleSchema(AnswerSchema):
    visits = ma.fields.Integer()
    working_days = ma.fields.Integer()
    days_alone = ma.fields.Integer(
        metadata={"description": "working days on which one person comes for a few hours"}
    )
    crew = ma.fields.Integer()
    waits = ma.fields.List(ma.fields.Nested(WaitSchema))


class InstructionSchema(AnswerSchema):
    step = ma.fields.String(metadata={"description": "the stage of building"})
    text = ma.fields.String()
    source = ma.fields.String()
    rooms = ma.fields.List(ma.fields.String())


class TakeoffSchema(AnswerSchema):
    """Measures, layout and findings of each room; materials, labour and cautions of all."""

    standards = ma.fields.String()
    rooms = ma.fields.List(ma.fields.Nested(RoomAnswerSchema))
    materials = ma.fields.List(ma.fields.Nested(MaterialSchema))
    labour = ma.fields.List(ma.fields.Nested(LabourLineSchema))
    labour_hours = ma.fields.Nested(LabourHoursSchema)
    schedule = ma.fields.Nested(ScheduleSchema)
    refused = ma.fields.Boolean(metadata={"description": "whether a finding refuses the floor"})
    cautions = ma.fields.List(ma.fields.String())
    assumptions = ma.fields.List(
        ma.fields.String(), metadata={"description": "what is taken for facts that nobody gave"}
    )
    exclusions = ma.fields.List(
        ma.fields.String(), metadata={"description": "what the price does not hold because of them"}
    )
    instructions = ma.fields.List(
        ma.fields.Nested(InstructionSchema), metadata={"description": "to the crew, in the order of building"}
    )
    tools = ma.fields.List(ma.fields.String())
    trade_edition = ma.fields.String()
    labour_table = ma.fields.String()


def takeoff_answer(
    takeoff: Takeoff, display_units: str = "metric", cut_lists: bool = False
) -> dict[str, Any]:
    """`takeoff` in the names of TakeoffSchema, rounded; with "us", US figures beside the metric ones.

    `cut_lists` adds to each room the pieces to cut.
    """
    answer: dict[str, Any] = made(TakeoffSchema).dump(_Described(takeoff, cut_lists))
    return with_us_figures(answer) if display_units == "us" else answer


class _Described:
    """A take-off with its rooms as understood and its hours by name, as the schema reads them."""

    def __init__(self, takeoff: Takeoff, cut_lists: bool) -> None:
        self._takeoff = takeoff
        self.standards = takeoff.job.standards
        self.rooms = [
            _room(room, found, cut_lists)
            for room, found in zip(takeoff.job.rooms, takeoff.rooms, strict=True)
        ]
        self.labour_hours = {
            "total": takeoff.labour_hours.total,
            "by_driver": dict(takeoff.labour_hours.by_driver),
        }

    def __getattr__(self, name: str) -> Any:
        return getattr(self._takeoff, name)


def _room(room: Room, found: RoomTakeoff, cut_lists: bool) -> dict[str, Any]:
    answer = {name: getattr(found, name) for name in made(RoomAnswerSchema).fields if hasattr(found, name)}
    answer["room"] = room_as_understood(room)
    if isinstance(room.shape, Outline) and room.shape.closing_error:
        answer["closing_error_mm"] = room.shape.closing_error
    if cut_lists:
        answer["cut_list"] = cut_list_of(room, found)
    return answer
