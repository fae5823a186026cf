"""Round walls drawn as polygons: their chords are one curve in each tile, straight walls stay straight."""

from __future__ import annotations

import math

import pytest
from shapely import Point, Polygon

from service.takeoff.answer import Cuts, Layout
from service.takeoff.cuts import sawing_of, sides_of
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.laid_floor import Floor, LaidFloor
from service.takeoff.layout import lay_out
from service.takeoff.room import Ring, Room
from tests.takeoff.outlines import room_of
from tests.takeoff.rooms import VALUES

ELL: Ring = ((0, 0), (3600, 0), (3600, 1500), (2000, 1500), (2000, 2700), (0, 2700))


def round_room(corners: int, radius: float = 1000.0) -> Room:
    steps = (2 * math.pi * i / corners for i in range(corners))
    return room_of(tuple((radius * math.cos(a), radius * math.sin(a)) for a in steps), origin="corner")


def laid(room: Room) -> tuple[Layout, FloorShape]:
    shape = floor_shape(room)
    return lay_out(room, shape, VALUES), shape


def chords_in(outline: Ring, rim: Polygon) -> int:
    """How many of the rim's sides a piece has, each known by its middle (brute force)."""
    sides = zip(outline, (*outline[1:], outline[0]), strict=True)
    middles = (Point((ax + bx) / 2, (ay + by) / 2) for (ax, ay), (bx, by) in sides)
    return sum(rim.exterior.distance(middle) < 0.01 for middle in middles)


@pytest.mark.parametrize("corners", [48, 96, 400])
def test_the_chords_of_a_round_wall_are_one_curve_a_tile(corners: int) -> None:
    layout, shape = laid(round_room(corners))
    assert layout.plan is not None
    assert isinstance(shape.field, Polygon)
    for piece in layout.plan.cut:
        count = chords_in(piece.outline, shape.field)
        assert piece.cuts == (Cuts(curve=1) if count >= 3 else Cuts(diagonal=count))


@pytest.mark.parametrize("corners", [24, 48, 96])
def test_all_pieces_together_are_sawn_like_each(corners: int) -> None:
    room = round_room(corners)
    floor = LaidFloor(Floor.of(room, floor_shape(room)), (123.4, -56.7))
    for each, sawn in zip(floor.tiles, floor.sawings, strict=True):
        for i, outline in enumerate(each.outlines):
            x, y = each.corners[i].tolist()
            one = sawing_of(outline, sides_of(each.tile, (x, y)))
            assert (sawn.cuts(i), sawn.lengths[i]) == (one.cuts, pytest.approx(one.length))


def test_a_room_of_ninety_six_corners() -> None:
    """Radius 1 m, tile of 300: of 24 cut tiles three hold two chords, the others more."""
    layout, _ = laid(round_room(96))
    assert (layout.cut_tiles, layout.cuts) == (24, Cuts(diagonal=6, curve=21))


def test_few_corners_are_walls_and_no_curve() -> None:
    """Of 24 corners a chord is 261 mm, most of the tile; of 8 the walls turn by 45 degrees."""
    for corners in (8, 24):
        assert laid(round_room(corners))[0].cuts.curve == 0


def test_a_right_angled_room_has_straight_cuts_and_a_notch() -> None:
    # By hand, 303 a tile: 3588 across the field are 11 tiles and 255, 1988 left of the notch 6 and 170; 1488
    # up are 4 and 276, 2688 are 8 and 264. Right edge 4, beside and in its corner 4 + 2, notch 1, up the
    # inner wall 3, along the top 6 + 2.
    assert laid(room_of(ELL, origin="corner"))[0].cuts == Cuts(straight=21, notch_l=1)


SQUARE: Ring = ((0, 0), (300, 0), (300, 300), (0, 300))
ARC = [(200 + 100 * math.cos(a * math.pi / 12), 200 + 100 * math.sin(a * math.pi / 12)) for a in range(7)]
TOP: Ring = ((0, 0), (300, 0), (300, 300), (200, 300))


@pytest.mark.parametrize(
    ("piece", "cuts"),
    [  # by hand
        ((SQUARE[0], SQUARE[1], *ARC, SQUARE[3]), Cuts(curve=1)),  # a corner rounded off
        ((*SQUARE[:2], (300, 200), (280, 280), (200, 300), SQUARE[3]), Cuts(diagonal=2)),  # bevelled twice
        ((*SQUARE[:2], (300, 200), (200, 200), (200, 300), SQUARE[3]), Cuts(notch_l=1)),
        ((*TOP, (200, 200), (100, 200), (100, 300), SQUARE[3]), Cuts(notch_u=1)),
        ((*SQUARE[:2], (300, 290), (200, 280), (100, 285), SQUARE[3]), Cuts(curve=1)),  # hollowed
        ((*SQUARE[:2], (300, 290), (100, 280), (50, 282), SQUARE[3]), Cuts(notch_u=1)),  # long sides
    ],
)
def test_the_kinds_of_cut(piece: Ring, cuts: Cuts) -> None:
    assert sawing_of(Polygon(piece), sides_of(SQUARE, (0, 0))).cuts == cuts
