"""Floors known by area only, and tile that cannot be laid."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import pytest

from service.takeoff.answer import Cuts
from service.takeoff.errors import InputError
from service.takeoff.geometry import floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import BareArea, Pattern, Room, Saw, Tile
from service.trade.values import load_trade_values
from tests.takeoff.outlines import rectangle, room_of

VALUES = load_trade_values("us", date(2026, 6, 1))


def test_bare_area_is_an_allowance() -> None:
    """12 m2 in 14 m: field (4000 - 12) x (3000 - 12); pitch 303; 8 % usual waste (common practice)."""
    room = Room("r", BareArea(12.0, 14000.0), Tile(300, 300))
    layout = lay_out(room, floor_shape(room), VALUES)
    tiles = 3988 * 2988 / 303**2
    assert not layout.laid_out
    assert (layout.plan, layout.origin, layout.narrowest_piece_mm) == (None, None, None)
    assert layout.tiles_needed == math.ceil(tiles * 1.08) == 141
    assert layout.tiles_lower_bound == math.ceil(tiles) == 130
    assert layout.tiled_area_m2 == pytest.approx(11.681, abs=5e-4)
    assert layout.wastage_percent == pytest.approx(100 * (141 * 0.09 / 11.681 - 1), abs=5e-3)
    assert layout.cuts == Cuts(straight=math.ceil(14000 / 303))


BAD: list[tuple[str, dict[str, Any]]] = [
    ("/joint", {"joint": -1.0}),
    ("/joint", {"joint": math.nan}),
    ("/min_piece", {"min_piece": -1.0}),
    ("/saw/kerf", {"saw": Saw(-2.0)}),
    ("/tile/length", {"tile": Tile(0.0, 300.0)}),
    ("/tile/width", {"tile": Tile(300.0, math.inf)}),
    ("/tile/width", {"tile": Tile(300.0, 3.0, size_is="nominal")}),
    ("/pattern", {"pattern": Pattern(rotation=math.nan)}),
    ("/pattern", {"origin": (math.nan, 0.0)}),
    ("/tile", {"tile": Tile(1.0, 1.0)}),
]


@pytest.mark.parametrize(("pointer", "wrong"), BAD)
def test_tile_that_cannot_be_laid_is_refused_by_name(pointer: str, wrong: dict[str, Any]) -> None:
    room = room_of(rectangle(3000, 2400), **wrong)
    with pytest.raises(InputError) as refused:
        lay_out(room, floor_shape(room), VALUES)
    assert refused.value.pointer == pointer


def test_the_limit_of_tiles_is_named() -> None:
    room = room_of(rectangle(100_000, 100_000), tile=Tile(50, 50))
    with pytest.raises(InputError, match="200,000"):
        lay_out(room, floor_shape(room), VALUES)
