"""Skirting cut from tile, against hand-worked strips."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff import skirting
from service.takeoff.answer import Step
from service.takeoff.geometry import floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.profiles import CONNECTORS
from service.takeoff.room import Doorway, Obstruction, Outline, Pattern, Room, Saw, Skirting, Tile
from service.takeoff.skirting import SkirtingTake, Strips, rips, strips_across, strips_of
from service.takeoff.wall_stretches import pieces, step_along, stretches
from tests.takeoff.floors import UNLAID
from tests.takeoff.outlines import rectangle, rectilinear, room_of, star
from tests.takeoff.rooms import VALUES

PROFILE = (("skirting_profile", "top"),)


def room(height: float = 95.0, **said: Any) -> Room:
    """4 x 3 m with a door of 0.9 m: 13.1 m of wall."""
    door = Doorway(wall=0, offset=500, width=900, adjoining="carpet")
    said = {"tile": Tile(600, 300), "doorways": (door,), "skirting": Skirting(height), **said}
    return room_of(rectangle(4000, 3000), **said)


def taken(given_room: Room) -> SkirtingTake:
    return skirting.take(given_room, floor_shape(given_room), UNLAID, VALUES)


def strips(given_room: Room, covered: bool = False) -> Strips:
    assert given_room.skirting is not None
    walls = stretches(floor_shape(given_room))
    return strips_of(given_room, given_room.skirting, walls, UNLAID, covered=covered, values=VALUES)


def test_strips_of_a_room() -> None:
    # 4.0, 3.0, 3.0, 2.6 and 0.5 m of 600 long with joint 3: 6 + 4 + 4 + 4 + 0 whole ones; 588, 588, 500 and
    # 382 + 188 from four more: 22, as many as ceil(13.1 / 0.603). 300 deep: 3 of 95 with two kerfs of 2
    # need 289; one factory edge a strip leaves 2 a tile: 11 tiles; with the top covered 3 a tile: 8.
    assert (strips(room()).count, strips(room()).tiles) == (22, 11)
    assert strips(room(), covered=True).tiles == 8


@pytest.mark.parametrize(("height", "number"), [(100, 2), (95, 3), (300, 1), (301, 0), (149, 2), (149.5, 1)])
def test_strips_across_a_tile(height: float, number: int) -> None:
    # 300 deep, kerf 2: 3 x 100 + 2 x 2 = 304 is too much; 2 x 149 + 2 = 300 fits exactly.
    assert strips_across(300, height, 2) == number


@given(st.floats(50, 1200), st.floats(40, 150), st.floats(0, 4))
def test_strips_fit_and_no_more_would(depth: float, height: float, kerf: float) -> None:
    number = strips_across(depth, height, kerf)
    assert number * height + max(number - 1, 0) * kerf <= depth + 1e-5
    assert (number + 1) * height + number * kerf > depth - 1e-5


def test_a_tile_turned_or_of_nominal_size_gives_the_same_strips() -> None:
    assert strips(room(tile=Tile(300, 600))) == strips(room())
    # A nominal 603 x 303 with joint 3 is a tile of 600 x 300 (ISO 13006: work size).
    assert strips(room(tile=Tile(603, 303, size_is="nominal"))) == strips(room())


def test_what_is_bought_and_done() -> None:
    step = taken(room()).step
    [tiles] = step.materials
    assert (tiles.role, tiles.unit, tiles.required, tiles.with_allowance) == (
        "skirting_tile",
        "piece",
        11,
        12,
    )
    assert sum(reason.quantity for reason in tiles.reasons) == 12
    assert tiles.piece_m2 == pytest.approx(0.18)
    # 22 rips, and a cut to length at one end of each of five stretches of wall: four, one parted by the door.
    work = {(w.activity, w.driver): w.quantity for w in step.work}
    assert work == {("cut_straight", "cuts"): 27, ("skirting", "metres"): pytest.approx(13.1)}


def test_the_floors_own_product() -> None:
    chosen = room(tile=Tile(600, 300, product="slate"))
    assert [m.product for m in taken(chosen).step.materials] == ["slate"]


def test_a_profile_over_the_top() -> None:
    result = taken(room(choices=PROFILE))
    tiles, profile, *fitted = result.step.materials
    assert tiles.required == 8
    assert profile.role == "skirting_profile"
    assert profile.required == pytest.approx(13.1)
    assert sorted(run.length_m for run in result.answer) == pytest.approx([0.5, 2.6, 3.0, 3.0, 4.0])
    assert {run.kind for run in result.answer} == {"skirting"}
    # Four of them are longer than a stick of 8 ft; a round of four walls has four corners.
    assert {r.text: r.quantity for m in fitted for r in m.reasons} == {CONNECTORS: 4, skirting.CORNERS: 4}
    assert ("profile", "profile_metres") in [(w.activity, w.driver) for w in result.step.work]


def test_rips() -> None:
    # Two strips of 149 and a kerf of 2 use 300 up: one rip frees both. Otherwise each strip has its own.
    assert rips(room(149.0), Skirting(149.0), Strips(count=22, a_tile=2)) == 11
    assert rips(room(149.0), Skirting(149.0), Strips(count=21, a_tile=2)) == 11
    assert rips(room(95.0), Skirting(95.0), Strips(count=22, a_tile=2)) == 22
    uncut = room(300.0, saw=Saw(kerf=0.0))
    assert rips(uncut, Skirting(300.0), Strips(count=22, a_tile=1)) == 0


def test_a_skirting_higher_than_the_tile_is_told() -> None:
    step = taken(room(301.0)).step
    [told] = step.findings
    assert told.verdict == "condition"
    assert "not priced" in told.message
    assert "301 mm high" in told.message
    assert "300 mm deep" in told.message
    assert (step.materials, step.work) == ((), ())


def test_no_skirting_and_no_walls() -> None:
    assert taken(room(skirting=None)) == SkirtingTake((), Step())
    assert taken(room(walls=(), doorways=())) == SkirtingTake((), Step())


def test_strips_stand_in_line_with_the_floors_joints() -> None:
    # Tile 600 x 600, joint 3, a stack bond from x = 200: along the walls of 4.0 m the floor shows 197, six
    # whole and 182 mm (200 + 6 x 603 = 3818); along those of 3.0 m, from y = 0, four whole and 588 mm.
    tiled = room(tile=Tile(600, 600), origin=(200.0, 0.0), doorways=())
    shape = floor_shape(tiled)
    layout = lay_out(tiled, shape, VALUES)
    laid = [pieces(wall, step_along(wall, layout, 600.0, 3.0)) for wall in stretches(shape)]
    assert [sorted(wall) for wall in laid] == [
        pytest.approx([182, 197, *[600] * 6]),
        pytest.approx([588, *[600] * 4]),
    ] * 2
    strips = strips_of(tiled, Skirting(95.0), stretches(shape), layout, covered=False, values=VALUES)
    # 20 whole ones, two of 588, and 197 + 197 + 182 with three kerfs of 2 (582) leave 182 for another: 24.
    assert (strips.count, strips.cut, strips.lined_up, strips.stretches) == (24, 6, 4, 4)
    # A bond with an offset keeps no line at a wall across its courses: strips begin at the corner.
    bond = room(tile=Tile(600, 300), pattern=Pattern("running_bond", Fraction(1, 2)))
    shape = floor_shape(bond)
    layout = lay_out(bond, shape, VALUES)
    kept = strips_of(bond, Skirting(95.0), stretches(shape), layout, covered=False, values=VALUES)
    assert kept.lined_up == 0


def test_stretches_run_from_corner_to_corner_and_around_a_column() -> None:
    column = Obstruction("column", centre=(2000, 1500), diameter=400)
    lengths = sorted(wall.length for wall in stretches(floor_shape(room(obstructions=(column,)))))
    assert lengths == pytest.approx([500, 1256.6, 2600, 3000, 3000, 4000], abs=2.0)


@given(rectilinear() | star(), st.floats(50, 900), st.floats(0, 10))
def test_pieces_and_joints_make_up_the_wall(outline: Outline, strip: float, joint: float) -> None:
    walls = stretches(floor_shape(room_of(outline.ring, outline.holes)))
    assert sum(wall.length for wall in walls) == pytest.approx(
        floor_shape(room_of(outline.ring, outline.holes)).measures.wall_length_m * 1000
    )
    for wall in walls:
        cut = pieces(wall, step_along(wall, UNLAID, strip, joint))
        assert max(cut, default=0) <= strip + 1e-6
        assert wall.length - sum(cut) == pytest.approx(joint * max(len(cut) - 1, 0), abs=2 * joint + 1e-5)
