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


_STEPS = """the narrowest piece as a share of its tile; 0 where a strip stays open that the joint cannot take
up, which is worst. It is judged in steps: at least 1/2, at least 1/3, at least 1/4, at least 1/8, less; a
lower step is taken only where no start reaches the higher one""".replace("\n", " ")
_COMPLETE = """true: every start that can differ was counted (right-angled floor, level courses of one tile,
all edges looked at), and tiles needed was reckoned for the best few; false: starts were sampled, and a better
one may exist""".replace("\n", " ")


_TRIED = """how many starts were counted; fewer where a request asks for so much that there is no time to
count all on every floor""".replace("\n", " ")


class OriginChoiceSchema(AnswerSchema):
    """A start and what it gives. Starts are judged in this order, a later criterion only where the earlier
    are equal: step of the narrowest piece, tiles needed, cuts, imbalance (in hundredths of a tile), a whole
    tile at the entrance, cut tiles on the sight line."""

    origin = position()
    rotation_deg = Rounded(3)
    narrowest_share = Rounded(3, metadata={"description": _STEPS})
    tiles_needed = ma.fields.Integer(metadata={"description": "the fewer the better"})
    cuts = ma.fields.Integer(metadata={"description": "the fewer the better"})
    imbalance = Rounded(
        3,
        metadata={"description": "by how much of a tile opposite edges differ, both axes together"},
    )
    whole_at_entrance = ma.fields.Boolean(
        allow_none=True, metadata={"description": "null where no entrance is known"}
    )
    cut_on_sight_line = ma.fields.Integer(
        allow_none=True, metadata={"description": "the fewer the better; null where there is no sight line"}
    )


class OriginSearchSchema(AnswerSchema):
    """The start chosen, the plain corner to compare it with, and the next best."""

    chosen = ma.fields.Nested(OriginChoiceSchema)
    corner = ma.fields.Nested(OriginChoiceSchema)
    runners_up = ma.fields.List(
        ma.fields.Nested(OriginChoiceSchema),
        metadata={"description": "at most two, each unlike the chosen and the other in more than its place"},
    )
    tried = ma.fields.Integer(metadata={"description": _TRIED})
    complete = ma.fields.Boolean(metadata={"description": _COMPLETE})


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
    tiles_gap = ma.fields.Integer(
        metadata={"description": "tiles_needed less tiles_lower_bound; 0 where no cutting takes fewer tiles"}
    )
    wastage_percent = Rounded(2)
    tiled_area_m2 = metres()
    joint_length_m = metres()
    unlaid_slivers = ma.fields.Integer()
    unlaid_area_m2 = metres(metadata={"description": "too narrow to lay, taken up by joint or profile"})
    search = ma.fields.Nested(
        OriginSearchSchema, allow_none=True, metadata={"description": "null where no best start was sought"}
    )


class CutTileSchema(AnswerSchema):
    """A piece that is no whole tile, from the low corner of its tile along the tile's sides; or a cut along a
    fold of the floor."""

    id = ma.fields.String(
        metadata={
            "description": "its number on the plan; of a cut along a fold F, the fold and the place on it"
        }
    )
    row = ma.fields.Integer()
    column = ma.fields.Integer()
    tile = ma.fields.Integer(metadata={"description": "which of the pattern's tiles"})
    length_mm = millimetres()
    width_mm = millimetres()
    outline = ring()
    holes = ma.fields.List(ring())
    cuts = ma.fields.Nested(CutsSchema)
    along = ma.fields.List(
        position(),
        allow_none=True,
        metadata={"description": "cut what lies here on this line; both halves go back to their place"},
    )
    position = position(metadata={"description": "of the tile's low corner in the room"})
    rotation_deg = Rounded(3, metadata={"description": "of the tile about that corner, anticlockwise"})
    piece = ma.fields.String(metadata={"description": "with along: the plan's piece, empty for a whole tile"})
