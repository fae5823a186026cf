"""The counted floor as answered: layout, the search for its start, the cut list."""

from __future__ import annotations

import marshmallow as ma

from service.api.framework.fields import Rounded
from service.api.framework.schema import AnswerSchema
from service.api.schemas.figures import metres, millimetres, position, ring


class CutsSchema(AnswerSchema):
    straight = ma.fields.Integer()
    diagonal = ma.fields.Integer()
    notch_l = ma.fields.Integer()
    notch_u = ma.fields.Integer()
    hole = ma.fields.Integer()
    curve = ma.fields.Integer()


class OriginChoiceSchema(AnswerSchema):
    """A start and what it gives, in the order in which starts are judged."""

    origin = position()
    rotation_deg = Rounded(3)
    narrowest_share = Rounded(
        3, metadata={"description": "the narrowest piece as a share of its tile; 0 where a gap stays open"}
    )
    tiles_needed = ma.fields.Integer()
    cuts = ma.fields.Integer()
    imbalance = Rounded(
        3, metadata={"description": "by how much of a tile opposite edges differ, both axes together"}
    )
    whole_at_entrance = ma.fields.Boolean(allow_none=True)
    cut_on_sight_line = ma.fields.Integer(allow_none=True)


class OriginSearchSchema(AnswerSchema):
    """The start chosen, the plain corner to compare it with, and the next best."""

    chosen = ma.fields.Nested(OriginChoiceSchema)
    corner = ma.fields.Nested(OriginChoiceSchema)
    runners_up = ma.fields.List(ma.fields.Nested(OriginChoiceSchema))
    tried = ma.fields.Integer()


class LayoutSchema(AnswerSchema):
    origin = position(
        allow_none=True, metadata={"description": "[x, y] in mm; null where nothing was laid out"}
    )
    laid_out = ma.fields.Boolean()
    pieces = ma.fields.Integer()
    whole_tiles = ma.fields.Integer()
    cut_tiles = ma.fields.Integer()
    cuts = ma.fields.Nested(CutsSchema)
    cut_length_m = metres()
    narrowest_piece_mm = millimetres(allow_none=True)
    tiles_needed = ma.fields.Integer()
    tiles_lower_bound = ma.fields.Integer()
    wastage_percent = Rounded(2)
    tiled_area_m2 = metres()
    joint_length_m = metres()
    unlaid_slivers = ma.fields.Integer()
    unlaid_area_m2 = metres(metadata={"description": "too narrow to lay, taken up by joint or profile"})
    search = ma.fields.Nested(
        OriginSearchSchema, allow_none=True, metadata={"description": "null where no best start was sought"}
    )


class CutTileSchema(AnswerSchema):
    """A piece that is no whole tile, from the low corner of its tile along the tile's sides."""

    id = ma.fields.String(metadata={"description": "its number on the plan"})
    row = ma.fields.Integer()
    column = ma.fields.Integer()
    tile = ma.fields.Integer(metadata={"description": "which of the pattern's tiles"})
    length_mm = millimetres()
    width_mm = millimetres()
    outline = ring()
    holes = ma.fields.List(ring())
    cuts = ma.fields.Nested(CutsSchema)
    position = position(metadata={"description": "of the tile's low corner in the room"})
    rotation_deg = Rounded(3, metadata={"description": "of the tile about that corner, anticlockwise"})
