"""Which piece comes from which tile, on whole floors, and offcuts that serve another room."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from math import fsum
from typing import Any

import pytest
from shapely import Polygon

from service.takeoff import take_off
from service.takeoff.answer import Layout, Material
from service.takeoff.geometry import floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import BareArea, Job, Obstruction, Pattern, Room, Saw, Tile
from service.trade.values import load_trade_values
from tests.takeoff.outlines import rectangle, room_of
from tests.takeoff.rooms import LABOUR

VALUES = load_trade_values("us", date(2026, 6, 1))


def laid(room: Room) -> Layout:
    return lay_out(room, floor_shape(room), VALUES)


def corner_room(length: float, width: float, **said: Any) -> Room:
    return room_of(rectangle(length, width), origin="corner", perimeter_joint=5.0, **said)


@pytest.mark.parametrize(
    "room",
    [
        corner_room(4000, 3000),
        corner_room(4000, 3000, saw=Saw(2, True)),
        corner_room(2500, 2200, pattern=Pattern(rotation=45)),
        corner_room(2500, 2200, pattern=Pattern("herringbone"), tile=Tile(600, 200)),
        corner_room(2500, 2200, pattern=Pattern("hexagon"), tile=Tile(200, 200)),
        corner_room(2500, 2200, obstructions=(Obstruction("pipe", centre=(800, 800), diameter=60),)),
        corner_room(1000, 900, obstructions=(Obstruction("column", rectangle(150, 900)),)),
    ],
)
def test_every_cut_piece_comes_from_one_tile(room: Room) -> None:
    """Tiles cut and plain whole tiles are the tiles needed, and no tile gives more than it has."""
    layout = laid(room)
    assert layout.plan is not None
    ids = [piece for tile in layout.tiles_cut for piece in tile.pieces]
    assert sorted(ids) == sorted(piece.id for piece in layout.plan.cut)
    plain = sum(run.last - run.first + 1 for run in layout.plan.whole)
    assert len(layout.tiles_cut) + plain == layout.tiles_needed
    assert [tile.number for tile in layout.tiles_cut] == list(range(1, len(layout.tiles_cut) + 1))
    area = {piece.id: Polygon(piece.outline, piece.holes).area for piece in layout.plan.cut}
    for tile in layout.tiles_cut:
        assert fsum(area[piece] for piece in tile.pieces) <= tile.length_mm * tile.width_mm + 1


def test_directional_tile_takes_more() -> None:
    """4000 x 3000, strips of 51 at the right wall: one factory edge is left, one right, and with no turn
    only the left one serves, 10 tiles where 5 do (by hand)."""
    room = corner_room(4000, 3000)
    assert laid(room).tiles_needed == 135
    assert laid(replace(room, tile=Tile(300, 300, directional=True))).tiles_needed == 140


def bought(*rooms: Room) -> Material:
    answer = take_off(Job(rooms), VALUES, LABOUR)
    (tile,) = (material for material in answer.materials if material.role == "tile")
    assert tile.with_allowance == pytest.approx(fsum(reason.quantity for reason in tile.reasons))
    return tile


def niche(name: str, **said: Any) -> Room:
    """One whole tile and a strip of 100 with one side at a joint: two tiles alone, of which a third is
    used (by hand)."""
    joint = said.get("joint", 3.0)
    return replace(corner_room(410 + joint, 310, **said), name=name)


def test_offcut_of_one_room_serves_another() -> None:
    alone, together = bought(niche("A")), bought(niche("A"), niche("B", joint=5.0))
    assert (alone.required, together.required) == (2, 3)
    shared = [reason for reason in together.reasons if reason.text == "offcuts shared between rooms"]
    assert [reason.quantity for reason in shared] == [-1]
    assert together.rooms == ("A", "B")


@pytest.mark.parametrize(
    "other",
    [niche("B", saw=Saw(5.0)), Room("B", BareArea(0.12, 1440), Tile(300, 300))],
    ids=["another saw", "an allowance"],
)
def test_offcuts_are_not_shared_with(other: Room) -> None:
    tile = bought(niche("A"), other)
    assert not any("shared" in reason.text for reason in tile.reasons)


def test_another_tile_shares_nothing() -> None:
    answer = take_off(Job((niche("A"), niche("B", tile=Tile(300, 300, 12)))), VALUES, LABOUR)
    assert [m.required for m in answer.materials if m.role == "tile"] == [2, 2]
