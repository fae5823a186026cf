"""What a request may say of the layout, and what is told: start, folds, joints, cut list, plan."""

from __future__ import annotations

from typing import Any
from xml.etree import ElementTree

import pytest
from shapely import Polygon

from service.quoting.understood import room_as_understood
from service.render.layers import LAYERS
from service.takeoff.room import ContinuesFrom, Focus
from tests.api.conftest import Office
from tests.api.rooms import SQUARE, TILE, refused, room

HALL = {"name": "Hall", "outline": SQUARE, "tile": TILE, "origin": "corner"}
STUDY = {
    "name": "Study",
    "outline": SQUARE,
    "tile": TILE,
    "continues_from": {"room": "Hall", "at": [-4100, 250]},
}
DRAIN = {"kind": "drain", "centre": [900, 1200], "diameter": 110}
SHOWER = {**HALL, "exposure": "wet", "falls": "point", "obstructions": [DRAIN]}
HERRINGBONE = {"kind": "herringbone", "rotation": 45}


def take_off(office: Office, *rooms: dict[str, Any], query: str = "") -> list[dict[str, Any]]:
    answer = office.post(f"/v1/takeoffs{query}", {"rooms": list(rooms)})
    assert answer.status_code == 200, answer.text
    told: list[dict[str, Any]] = answer.json["rooms"]
    return told


def test_focus_rotations_and_direction_reach_the_room_and_come_back() -> None:
    made = room(
        focus={"doorway": 0},
        doorways=[{"wall": 0, "offset": 100, "width": 900}],
        pattern={"try_rotations": [90]},
        tile={**TILE, "directional": True},
        continues_from={"room": 2, "at": ["1 m", 0]},
    )
    assert (made.focus, made.pattern.try_rotations) == (Focus("doorway", 0), (90,))
    assert (made.tile.directional, made.continues_from) == (True, ContinuesFrom(2, (1000, 0)))
    said = room_as_understood(made)
    again = room(**{name: said[name] for name in ("focus", "pattern", "tile", "continues_from", "doorways")})
    assert again == made


@pytest.mark.parametrize(
    ("members", "pointer"),
    [
        ({"focus": {}}, "/rooms/0/focus"),
        ({"pattern": {"tiles": [TILE, TILE]}}, "/rooms/0/pattern/tiles"),
        ({"pattern": {"kind": "running_bond", "tiles": [TILE]}}, "/rooms/0/pattern/tiles"),
        (
            {"pattern": {"kind": "hexagon"}, "tile": {"length": 200, "width": 231}},
            "/rooms/0/tile/width",
        ),
        ({"focus": {"wall": 0, "doorway": 0}}, "/rooms/0/focus"),
        ({"focus": {"wall": -1}}, "/rooms/0/focus/wall"),
        ({"continues_from": {"room": True, "at": [0, 0]}}, "/rooms/0/continues_from/room"),
        ({"continues_from": {"room": " ", "at": [0, 0]}}, "/rooms/0/continues_from/room"),
        ({"continues_from": {"room": 1}}, "/rooms/0/continues_from/at"),
        ({"pattern": {"try_rotations": list(range(9))}}, "/rooms/0/pattern/try_rotations"),
    ],
)
def test_what_cannot_be_meant_is_refused(members: dict[str, Any], pointer: str) -> None:
    assert refused({"outline": SQUARE, "tile": TILE, **members}) == [pointer]


def test_a_floor_runs_on_from_one_datum(demo: Office) -> None:
    study, hall = take_off(demo, STUDY, HALL)
    x, y = hall["layout"]["origin"]
    assert study["layout"]["origin"] == [x - 4100, y + 250]
    answer = demo.post("/v1/takeoffs", {"rooms": [STUDY]})
    assert answer.status_code == 422
    assert [fault["pointer"] for fault in answer.json["errors"]] == ["/rooms/0/continues_from/room"]


def test_the_search_tells_what_it_gained(demo: Office) -> None:
    best, corner = take_off(demo, {**HALL, "origin": "best"}, HALL)
    assert corner["layout"]["search"] is None
    search = best["layout"]["search"]
    assert search["chosen"]["origin"] == best["layout"]["origin"]
    assert search["corner"]["tiles_needed"] == corner["layout"]["tiles_needed"]
    assert len(search["runners_up"]) <= 2


def test_cut_lists_are_told_where_asked_for(demo: Office) -> None:
    (plain,) = take_off(demo, SHOWER)
    assert "cut_list" not in plain
    (told,) = take_off(demo, SHOWER, query="?cut_list=true")
    pieces = told["cut_list"]
    laid = [piece["id"] for piece in pieces if not piece["id"].startswith("F")]
    assert laid == [str(n + 1) for n in range(len(laid))]
    folds = [piece for piece in pieces if piece["id"].startswith("F")]
    assert sum(sum(piece["cuts"].values()) for piece in folds) > 0
    assert all(Polygon(piece["outline"], piece["holes"]).area <= 300 * 300 + 1 for piece in pieces)
    edge = [piece for piece in pieces if sum(piece["cuts"].values())]
    assert len(edge) >= told["layout"]["cut_tiles"]


def test_folds_and_joints_are_told_with_their_places(demo: Office) -> None:
    (shower,) = take_off(demo, SHOWER)
    assert len(shower["folds"]) == 4
    assert "folds" in {finding["rule"] for finding in shower["findings"]}
    (long,) = take_off(demo, {**HALL, "outline": [[0, 0], [9000, 0], [9000, 5000], [0, 5000]]})
    joints = long["movement_joints"]
    assert (joints["parts"], len(joints["lines"])) == (2, 1)
    assert joints["longest_part_m"] <= joints["max_spacing_m"]


@pytest.mark.parametrize(
    "pattern", [{}, HERRINGBONE, {"kind": "hexagon"}, {"kind": "running_bond", "offset": 0.5}]
)
def test_plans_of_all_kinds_by_layers(demo: Office, pattern: dict[str, Any]) -> None:
    tile = {"length": 400, "width": 400 if pattern.get("kind") == "hexagon" else 100}
    body = {"rooms": [{**SHOWER, "tile": tile, "pattern": pattern}]}
    whole = demo.post("/v1/takeoffs", body, Accept="image/svg+xml")
    some = demo.post("/v1/takeoffs?layers=tiles,cuts,folds", body, Accept="image/svg+xml")
    assert layers_of(whole.data) <= set(LAYERS)
    assert layers_of(some.data) == {"tiles", "cuts", "folds"}
    refused_ = demo.post("/v1/takeoffs?layers=furniture", body, Accept="image/svg+xml")
    assert refused_.status_code == 422


def test_the_plan_of_a_quote_by_layers(demo: Office) -> None:
    made = demo.post("/v1/quotes", {"rooms": [HALL, SHOWER]})
    assert made.status_code == 201, made.text
    path = f"/v1/quotes/{made.json['id']}/plan?room=1"
    assert "folds" in layers_of(demo.get(path).data)
    assert layers_of(demo.get(f"{path}&layers=walls,folds").data) == {"walls", "folds"}


def layers_of(svg: bytes) -> set[str]:
    root = ElementTree.fromstring(svg)  # noqa: S314  (our own output)
    return {group.attrib["data-layer"] for group in root if "data-layer" in group.attrib}


def test_the_gap_to_the_least_number_of_tiles_is_told(demo: Office) -> None:
    [told] = take_off(demo, HALL)
    layout = told["layout"]
    assert layout["tiles_gap"] == layout["tiles_needed"] - layout["tiles_lower_bound"] >= 0
