"""How the search for the best start tells what it did, and what it takes for opposite ends of a floor."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from service.takeoff.answer import OriginChoice
from service.takeoff.best_origin import best_floor
from service.takeoff.errors import InputError
from service.takeoff.geometry import floor_shape
from service.takeoff.laid_floor import Floor
from service.takeoff.level_field import level_field
from service.takeoff.room import Doorway, Pattern, Ring, Room, Tile
from tests.takeoff.outlines import rectangle, room_of, walled
from tests.takeoff.test_best_origin import found, rooms, value


def told(choice: OriginChoice) -> tuple[object, ...]:
    """As printed, but for the place."""
    return (
        choice.rotation_deg,
        round(choice.narrowest_share, 3),
        choice.tiles_needed,
        choice.cuts,
        round(choice.imbalance, 3),
        choice.whole_at_entrance,
        choice.cut_on_sight_line,
    )


@settings(max_examples=10, deadline=None)
@given(rooms())
@example(room_of(rectangle(3600, 2400), tile=Tile(600, 300)))
def test_runners_up_are_unlike_the_chosen(room: Room) -> None:
    """Also on a floor that is alike from several starts."""
    try:
        search = found(room)
    except InputError:
        assume(False)
        raise
    order = [told(each) for each in (search.chosen, *search.runners_up)]
    assert len(set(order)) == len(order)


@pytest.mark.parametrize(
    ("said", "complete"),
    [
        ({}, True),
        ({"pattern": Pattern("running_bond", Fraction(1, 3))}, True),
        ({"pattern": Pattern(try_rotations=(90.0,))}, True),
        ({"pattern": Pattern(try_rotations=(45.0,))}, False),
        ({"pattern": Pattern("herringbone")}, False),
        ({"pattern": Pattern("running_bond", Fraction(5, 17))}, False),
    ],
)
def test_whether_the_search_was_complete_is_told(said: Any, complete: bool) -> None:
    assert found(room_of(rectangle(4000, 3000), tile=Tile(600, 300), **said)).complete is complete


@pytest.mark.parametrize(
    "pattern", [Pattern(), Pattern("running_bond", Fraction(1, 3)), Pattern("herringbone")]
)
def test_a_doorway_is_no_end_of_the_field(pattern: Pattern) -> None:
    """Tile reaches 6 mm on into the doorway; the walls are where they are without one. 2988 is nine
    tiles and 261 more: 39 of 300 out of balance where the other way is even (derived)."""
    tile = Tile(600, 150) if pattern.kind == "herringbone" else Tile(300, 300)
    room = room_of(rectangle(4000, 3000), pattern=pattern, tile=tile)
    by_door = replace(room, doorways=(Doorway(0, 1000, 900),))
    chosen = found(room).chosen
    _, search = best_floor([Floor.of(by_door, floor_shape(by_door))], chosen.origin, (3994.0, 2994.0))
    assert search.corner.imbalance == pytest.approx(chosen.imbalance, abs=0.05)
    assert pattern.kind != "stack_bond" or chosen.imbalance == pytest.approx(39 / 300)


def test_ends_of_a_field_with_doorways_on_opposite_sides() -> None:
    doors = (Doorway(0, 1000, 900), Doorway(1, 500, 2400), Doorway(2, 200, 700))
    level = level_field(floor_shape(room_of(rectangle(4000, 3000), doorways=doors)).field)
    assert level is not None
    assert level.ends == ((6.0, 4000.0), (6.0, 2994.0))


@st.composite
def oblique_rings(draw: st.DrawFn) -> Ring:
    angles = sorted(draw(st.lists(st.integers(0, 359), min_size=4, max_size=7, unique=True)))
    reach = draw(st.lists(st.integers(1200, 2600), min_size=len(angles), max_size=len(angles)))
    at = [(r, math.radians(angle)) for r, angle in zip(reach, angles, strict=True)]
    return tuple((float(round(r * math.cos(a))), float(round(r * math.sin(a)))) for r, a in at)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(oblique_rings())
@example(((5221, 4126), (3642, 4410), (2416, 4405), (794, 2909), (4265, 1852)))
def test_a_room_and_its_mirror_image_are_served_alike(ring: Ring) -> None:
    """A sample too gives the same step, and tiles that differ by one at most."""
    room = room_of(ring)
    images = [tuple((x * sx, y * sy) for x, y in reversed(ring)) for sx, sy in ((-1, 1), (1, -1))]
    try:
        step, tiles, *_ = value(found(room).chosen)
        mirrored = [value(found(replace(room, shape=walled(image))).chosen) for image in images]
    except InputError:
        assume(False)
        raise
    assert [image[0] for image in mirrored] == [step, step]
    assert max(abs(image[1] - tiles) for image in mirrored) <= 1
