"""POST /v1/takeoffs: the counted floor, the refusals with their pointers, the plan."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any
from xml.etree import ElementTree

import pint
import pytest

from service.api import examples
from tests.api.conftest import Office

TILE = {"length": 300, "width": 300}
GOLDEN = {
    "rectangle": {"length": 3015, "width": 2109},
    "tile": TILE,
    "joint": 3,
    "perimeter_joint": 6,
    "origin": "corner",
}
SQUARE = [[0, 0], [4000, 0], [4000, 3000], [0, 3000]]


def take_off(office: Office, *rooms: dict[str, Any], **more: Any) -> dict[str, Any]:
    answer = office.post("/v1/takeoffs", {"rooms": list(rooms), **more})
    assert answer.status_code == 200, answer.text
    document: dict[str, Any] = answer.json
    return document


def test_the_golden_floor(demo: Office) -> None:
    """3015 x 2109 less 6 all round is 3003 x 2097: 9 whole tiles and one of 276 along x (10 columns), 6 whole
    and one of 279 along y (7 rows); so 9 x 6 = 54 whole and 70 - 54 = 16 cut, the corner one cut twice.
    """
    (room,) = take_off(demo, GOLDEN)["rooms"]
    layout = room["layout"]
    assert (layout["whole_tiles"], layout["cut_tiles"], layout["pieces"]) == (54, 16, 70)
    assert layout["tiles_needed"] == 70
    assert layout["cuts"]["straight"] == 17
    assert layout["narrowest_piece_mm"] == 276
    assert "plan" not in layout
    assert room["measures"] == {
        "floor_area_m2": 6.359,
        "perimeter_m": 10.248,
        "wall_length_m": 10.248,
        "inside_corners": 4,
        "outside_corners": 0,
    }
    assert room["room"]["walls"] == [0, 1, 2, 3]
    assert room["room"]["origin"] == "corner"


def test_the_answer_is_whole_and_stores_nothing(demo: Office) -> None:
    document = take_off(demo, examples.ROOM, examples.UTILITY_ROOM)
    assert [room["name"] for room in document["rooms"]] == ["Shower room", "Utility room"]
    roles = {material["role"] for material in document["materials"]}
    assert {"tile", "membrane", "tile_mortar", "membrane_mortar", "grout", "band", "drain_seal"} <= roles
    assert document["schedule"]["working_days"] > document["schedule"]["visits"] >= 1
    assert document["cautions"]
    assert demo.get("/v1/quotes").json["items"] == []


def test_hours_are_the_same_wherever_they_are_told(demo: Office) -> None:
    """Lines, drivers, total and the lines billed, as the decimals that the caller reads."""
    rooms = {"rooms": [examples.ROOM, examples.UTILITY_ROOM]}
    takeoff = json.loads(demo.post("/v1/takeoffs", rooms).text, parse_float=Decimal)
    quote = json.loads(demo.post("/v1/quotes", rooms).text, parse_float=Decimal)
    total = takeoff["labour_hours"]["total"]
    assert total > 10
    assert sum(line["hours"] for line in takeoff["labour"]) == total
    assert sum(takeoff["labour_hours"]["by_driver"].values()) == total
    billed = {line["role"]: Decimal(line["quantity"]) for line in quote["lines"] if line["kind"] == "labour"}
    assert billed == {line["activity"]: line["hours"] for line in takeoff["labour"]}
    assert sum(billed.values()) == total


def test_us_figures_stand_beside_the_metric_ones(demo: Office) -> None:
    units = pint.UnitRegistry()
    document = take_off(demo, GOLDEN, display_units="us")
    measures = document["rooms"][0]["measures"]
    assert measures["floor_area_ft2"] == pytest.approx((6.359 * units.m**2).to("ft**2").magnitude, abs=1e-3)
    assert measures["perimeter_ft"] == pytest.approx((10.248 * units.m).to("ft").magnitude, abs=1e-3)
    narrowest = document["rooms"][0]["layout"]["narrowest_piece_in"]
    assert narrowest == pytest.approx((276 * units.mm).to("inch").magnitude, abs=1e-3)
    mortar = next(m for m in document["materials"] if m["role"] == "tile_mortar")
    pounds = (mortar["required"] * units.kg).to("lb").magnitude
    assert (mortar["us_unit"], mortar["us_required"]) == ("lb", pytest.approx(pounds, abs=1e-3))
    plain = take_off(demo, GOLDEN)
    assert "floor_area_ft2" not in plain["rooms"][0]["measures"]


def test_a_bare_area_is_marked_as_not_laid_out(demo: Office) -> None:
    (room,) = take_off(demo, {"area_m2": 12, "perimeter": "14 m", "tile": TILE})["rooms"]
    assert room["layout"]["laid_out"] is False
    assert room["layout"]["origin"] is None
    assert room["room"]["area_m2"] == 12


def test_the_closing_error_of_a_run_is_told(demo: Office) -> None:
    run = [{"length": length, "turn": "left"} for length in (4012, 3000, 4000, 3000)]
    (room,) = take_off(demo, {"walls_run": run, "tile": TILE})["rooms"]
    assert room["closing_error_mm"] == 12


def test_the_plan_is_an_svg_of_the_room_asked_for(demo: Office) -> None:
    body = {"rooms": [GOLDEN, {**GOLDEN, "name": "The other room"}]}
    drawn = demo.post("/v1/takeoffs?room=1", body, Accept="image/svg+xml")
    assert (drawn.status_code, drawn.mimetype) == (200, "image/svg+xml"), drawn.text
    assert ElementTree.fromstring(drawn.data).tag == "{http://www.w3.org/2000/svg}svg"  # noqa: S314
    assert "The other room" in drawn.text
    assert demo.post("/v1/takeoffs?room=2", body, Accept="image/svg+xml").status_code == 422
    assert demo.post("/v1/takeoffs", body, Accept="text/csv").status_code == 406


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"outline": [[0, 0], [4000, 3000], [4000, 0], [0, 3000]]}, "/rooms/0/outline"),
        ({"outline": [[0, 0], [4000, 0], [8000, 0]]}, "/rooms/0/outline"),
        ({"doorways": [{"wall": 1, "offset": 2500, "width": 900}]}, "/rooms/0/doorways/0/offset"),
        (
            {"obstructions": [{"kind": "column", "outline": [[5000, 1], [5100, 1], [5100, 90]]}]},
            "/rooms/0/obstructions/0",
        ),
        (
            {"obstructions": [{"kind": "drain", "centre": [9000, 9000], "diameter": 110}]},
            "/rooms/0/obstructions/0",
        ),
        ({"tile": {"product": examples.SOME_ID}}, "/rooms/0/tile/product"),
        ({"tile": {"length": -300, "width": 300}}, "/rooms/0/tile/length"),
        ({"joint": -3}, "/rooms/0/joint"),
    ],
)
def test_bad_input_is_refused_with_its_place(demo: Office, change: dict, pointer: str) -> None:
    answer = demo.post("/v1/takeoffs", {"rooms": [{"outline": SQUARE, "tile": TILE, **change}]})
    assert answer.status_code == 422, answer.text
    assert answer.content_type == "application/problem+json"
    assert answer.json["errors"][0]["pointer"].startswith(pointer)


def test_an_office_without_labour_rates_is_told_what_to_do(office: Office) -> None:
    answer = office.post("/v1/takeoffs", {"rooms": [GOLDEN]})
    assert (answer.status_code, answer.json["type"]) == (409, "/problems/not-set-up")
    assert "labour-rates" in answer.json["detail"]


def test_a_rate_that_is_missing_is_named(office: Office) -> None:
    office.post("/v1/labour-rates", examples.LABOUR_TABLE)
    answer = office.post("/v1/takeoffs", {"rooms": [GOLDEN]})
    assert (answer.status_code, answer.json["type"]) == (409, "/problems/not-set-up")


def test_an_own_value_changes_the_take_off(demo: Office) -> None:
    before = take_off(demo, GOLDEN)
    assert before == take_off(demo, GOLDEN), "the same room gives the same answer"
    where = "/v1/trade-values/grout.density"
    density = demo.get(where).json["value"]
    set_own = demo.put(where, {"value": density * 1.25}, If_Match="*")
    assert set_own.status_code == 200, set_own.text
    kilograms = [
        next(material["required"] for material in document["materials"] if material["role"] == "grout")
        for document in (before, take_off(demo, GOLDEN))
    ]
    assert kilograms[1] == pytest.approx(1.25 * kilograms[0], abs=0.002)
