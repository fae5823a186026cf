"""From a room as sent to the take-off's plain data: defaults, pointers, and back."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import marshmallow as ma
import pytest

from service.api.schemas.room import JobSchema
from service.quoting.understood import room_as_understood
from service.takeoff.room import Outline, Room, Tile
from tests.api.rooms import PRODUCT, SQUARE, TILE, job, refused, room


def test_only_a_shape_and_a_tile_must_be_given() -> None:
    made = room()
    tile = Tile(300, 300, assumed=("thickness", "material"))
    assert made == Room("Room 1", Outline(tuple(map(tuple, SQUARE)), (), (0, 1, 2, 3)), tile)
    assert (made.exposure, made.waterproof, made.skirting) == ("dry", False, None)
    assert (made.joint, made.perimeter_joint, made.min_piece) == (3, 6, 10)
    assert (made.pattern.kind, made.origin, made.movement_joint) == ("stack_bond", "best", "sealant")
    assert made.membrane is not None


@pytest.mark.parametrize(
    ("members", "expected"),
    [
        ({}, False),
        ({"exposure": "wet"}, True),
        ({"exposure": "exterior"}, True),
        ({"zones": [{"outline": SQUARE, "exposure": "wet"}]}, True),
        ({"zones": [{"outline": SQUARE, "exposure": "dry", "sunlit": True}]}, False),
        ({"exposure": "wet", "waterproof": False}, False),
        ({"waterproof": True}, True),
    ],
)
def test_waterproof_exactly_where_not_dry_unless_said(members: dict[str, Any], expected: bool) -> None:
    assert room(**members).waterproof is expected


@pytest.mark.parametrize(
    ("members", "zones_only"),
    [
        ({"zones": [{"outline": SQUARE, "exposure": "wet"}]}, True),
        ({"zones": [{"outline": SQUARE, "exposure": "wet"}], "waterproof": True}, False),
        ({"zones": [{"outline": SQUARE, "exposure": "wet"}], "exposure": "wet"}, False),
        ({"zones": [{"outline": SQUARE, "exposure": "dry", "sunlit": True}]}, False),
        ({}, False),
    ],
)
def test_a_wet_zone_alone_is_sealed_alone_unless_said(members: dict[str, Any], zones_only: bool) -> None:
    assert room(**members).sealed_zones_only is zones_only


def test_a_slab_outdoors_meets_the_weather_unless_said() -> None:
    slab = {"substrate": {"kind": "exterior_slab"}}
    assert (room(**slab).exposure, room(**slab).waterproof) == ("exterior", True)
    assert room(**slab, exposure="dry").exposure == "dry"
    assert room().exposure == "dry"


def test_a_product_gives_its_own_measures() -> None:
    assert room(tile={"product": PRODUCT}).tile == Tile(300, 300, product=PRODUCT)
    assert refused({"outline": SQUARE, "tile": {"product": PRODUCT, "length": 400}}) == [
        "/rooms/0/tile/length"
    ]
    assert refused({"outline": SQUARE, "tile": {"product": PRODUCT[:-1] + "e"}}) == ["/rooms/0/tile/product"]


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("1/3", Fraction(1, 3)),
        (0.33, Fraction(1, 3)),
        (0.5, Fraction(1, 2)),
        ("50/100", Fraction(1, 2)),
        (0, Fraction(0)),
    ],
)
def test_an_offset_is_snapped_to_its_fraction(said: Any, meant: Fraction) -> None:
    assert room(pattern={"kind": "running_bond", "offset": said}).pattern.offset == meant


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"substrate": {"kind": "concrete_on_ground", "bonded": True}}, "/rooms/0/substrate/bonded"),
        ({"substrate": {"kind": "existing_tile", "beneath": "unknown"}}, "/rooms/0/substrate/beneath"),
        (
            {"substrate": {"kind": "existing_tile"}, "existing": {"covering": "tile", "remove": True}},
            "/rooms/0/existing/remove",
        ),
        (
            {"substrate": {"kind": "existing_resilient"}, "existing": {"covering": "resilient"}},
            "/rooms/0/existing/remove",
        ),
        (
            {"substrate": {"kind": "exterior_slab", "beneath": "screed_cement"}},
            "/rooms/0/substrate/beneath",
        ),
        ({"tile": None}, "/rooms/0/tile"),
        ({"tile": {"length": 300}}, "/rooms/0/tile/width"),
        ({"tile": {"length": -300, "width": 300}}, "/rooms/0/tile/length"),
        ({"tile": {"length": float("nan"), "width": 300}}, "/rooms/0/tile/length"),
        ({"tile": {"length": True, "width": 300}}, "/rooms/0/tile/length"),
        ({"tile": {"length": "300", "width": 300}}, "/rooms/0/tile/length"),
        ({"outline": SQUARE[:2]}, "/rooms/0/outline"),
        ({"outline": [[0, 0], [1, 2, 3], [4, 5]]}, "/rooms/0/outline/1"),
        ({"outline": [[0, 0], [4000, "3 yards"], [0, 3000]]}, "/rooms/0/outline/1/1"),
        ({"outline": [[0, 0], [4000, float("inf")], [0, 3000]]}, "/rooms/0/outline/1/1"),
        ({"rectangle": {"length": 1, "width": 1}}, "/rooms/0"),
        ({"perimeter": 3}, "/rooms/0/perimeter"),
        ({"walls": [0, 4]}, "/rooms/0/walls/1"),
        ({"walls": "some"}, "/rooms/0/walls"),
        ({"doorways": [{"wall": 4, "offset": 0, "width": 800}]}, "/rooms/0/doorways/0/wall"),
        ({"walls": [0, 1], "doorways": [{"wall": 2, "offset": 0, "width": 800}]}, "/rooms/0/doorways/0/wall"),
        (
            {"doorways": [{"wall": 0, "offset": 0, "width": 800}, {"wall": 1, "offset": 2500, "width": 800}]},
            "/rooms/0/doorways/1/offset",
        ),
        ({"doorways": [{"wall": 0, "offset": -1, "width": 800}]}, "/rooms/0/doorways/0/offset"),
        ({"obstructions": [{"kind": "column"}]}, "/rooms/0/obstructions/0"),
        ({"obstructions": [{"kind": "drain", "centre": [1, 1]}]}, "/rooms/0/obstructions/0/diameter"),
        ({"obstructions": [{"kind": "piano", "outline": SQUARE}]}, "/rooms/0/obstructions/0/kind"),
        ({"pattern": {"offset": 1}}, "/rooms/0/pattern/offset"),
        ({"pattern": {"offset": "1/0"}}, "/rooms/0/pattern/offset"),
        ({"origin": "middle"}, "/rooms/0/origin"),
        ({"origin": [1]}, "/rooms/0/origin"),
        ({"exposure": "damp"}, "/rooms/0/exposure"),
        ({"substrate": {"moisture": {"method": "rh", "value": -1}}}, "/rooms/0/substrate/moisture/value"),
        ({"choices": {"grout": "grey"}}, "/rooms/0/choices/grout"),
        ({"choices": {"wallpaper": PRODUCT}}, "/rooms/0/choices/wallpaper"),
        ({"colour": "red"}, "/rooms/0/colour"),
        ({"saw": {"kerf": 2, "speed": 1}}, "/rooms/0/saw/speed"),
    ],
)
def test_each_fault_is_told_by_its_pointer(change: dict[str, Any], pointer: str) -> None:
    assert refused({"outline": SQUARE, "tile": TILE, **change}) == [pointer]


def test_a_job_of_more_corners_than_can_be_reckoned_names_the_limit() -> None:
    teeth = [[x * 100, (x % 2) * 50] for x in range(400)] + [[39900, 9000], [0, 9000]]
    room = {"outline": teeth, "tile": {"length": 300, "width": 300}}
    assert JobSchema().load({"rooms": [room] * 2})
    with pytest.raises(ma.ValidationError, match=r"1206 corners.*1000"):
        JobSchema().load({"rooms": [room] * 3})
    turned = {**room, "pattern": {"try_rotations": [0, 15, 30, 45]}}
    with pytest.raises(ma.ValidationError, match="1608 corners"):
        JobSchema().load({"rooms": [turned]})


def test_the_pointer_counts_the_rooms() -> None:
    good = {"outline": SQUARE, "tile": TILE}
    bad = {**good, "doorways": [{"wall": 9, "offset": 0, "width": 800}]}
    assert refused(good, bad) == ["/rooms/1/doorways/0/wall"]
    assert refused() == ["/rooms"]
    assert refused(*[good] * 51) == ["/rooms"]


ROOMS = [
    {"outline": SQUARE, "tile": TILE},
    {"rectangle": {"length": "3.6 m", "width": "8 ft"}, "tile": {"product": PRODUCT}, "membrane": None},
    {
        "name": "Everything",
        "parts": [
            {"op": "add", "at": [0, 0], "length": 5000, "width": 5000},
            {"op": "subtract", "at": [2000, 2000], "length": 1000, "width": 1000},
        ],
        "tile": TILE,
        "walls": [0, 1, 2],
        "doorways": [{"wall": 0, "offset": 400, "width": 900, "adjoining": "carpet", "adjoining_level": -8}],
        "obstructions": [
            {"kind": "column", "outline": [[1, 1], [2, 1], [2, 2]]},
            {"kind": "drain", "centre": [900, 1200], "diameter": 110},
        ],
        "exposure": "exterior",
        "zones": [{"outline": SQUARE, "exposure": "wet", "sunlit": True}],
        "substrate": {
            "kind": "plywood_on_joists",
            "flatness": {"gap": 5, "under": 3000},
            "moisture": {"method": "wood", "value": 9},
            "joist_spacing": 406,
        },
        "existing": {"covering": "tile", "remove": False},
        "built_year": 1985,
        "heating": "electric",
        "pattern": {"kind": "running_bond", "offset": "1/3", "rotation": 45},
        "origin": [10, 20],
        "skirting": {"height": 80},
        "choices": {"grout": PRODUCT},
        "saw": {"kerf": 3},
    },
    {
        "outline": SQUARE,
        "tile": TILE,
        "substrate": {"kind": "existing_tile", "beneath": "concrete_on_ground", "bonded": False},
        "doorways": [{"wall": 0, "offset": 400, "width": 900, "leaf": False}],
        "exposure": "wet",
        "curb": True,
    },
    {"area_m2": 12, "perimeter": "14 m", "tile": TILE, "exposure": "wet", "waterproof": False},
    {"outline": SQUARE, "tile": TILE, "zones": [{"outline": SQUARE, "exposure": "wet"}]},
    {"outline": SQUARE, "tile": TILE, "zones": [{"outline": SQUARE, "exposure": "wet"}], "waterproof": True},
]


@pytest.mark.parametrize("sent", ROOMS)
def test_the_room_as_understood_means_the_same_room(sent: dict[str, Any]) -> None:
    made = job(sent)
    told = json.loads(json.dumps(room_as_understood(made.rooms[0]), allow_nan=False))
    assert job(told) == made
