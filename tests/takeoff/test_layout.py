"""Hand-worked floors. Each was worked out on paper; the arithmetic stands beside it (derived)."""

from __future__ import annotations

import math
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from service.takeoff.answer import Cuts, Layout
from service.takeoff.geometry import floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import Doorway, Obstruction, Pattern, Ring, Saw, Tile
from service.trade.values import load_trade_values
from tests.takeoff.outlines import rectangle, room_of

VALUES = load_trade_values("us", date(2026, 6, 1))
IN = 25.4
NO_JOINTS: dict[str, Any] = {"joint": 0.0, "perimeter_joint": 0.0, "saw": Saw(0.0)}


def laid(ring: Ring, size: tuple[float, float] = (300, 300), **said: Any) -> Layout:
    said.setdefault("origin", "corner")
    room = room_of(ring, tile=Tile(*size), **said)
    return lay_out(room, floor_shape(room), VALUES)


def counts(layout: Layout) -> tuple[int, int, int, int]:
    return layout.whole_tiles, layout.cut_tiles, layout.pieces, layout.tiles_needed


def test_golden_room() -> None:
    """3003 x 2097 of field at a pitch of 303: 9 whole and 276 over, 6 whole and 279 over. 9 x 6 whole,
    6 + 9 + 1 cut, the corner one twice; no two of the cuts come from one tile."""
    layout = laid(rectangle(3015, 2109), joint=3.0, perimeter_joint=6.0)
    assert counts(layout) == (54, 16, 70, 70)
    assert layout.cuts == Cuts(straight=17)
    assert layout.cut_length_m == pytest.approx((6 * 300 + 9 * 300 + 276 + 279) / 1e3)
    assert layout.narrowest_piece_mm == pytest.approx(276)
    assert layout.tiles_lower_bound == 70
    face = (9 * 300 + 276) * (6 * 300 + 279)
    assert layout.tiled_area_m2 == pytest.approx(face / 1e6)
    assert layout.wastage_percent == pytest.approx(100 * (70 * 90000 / face - 1))
    assert layout.joint_length_m == pytest.approx((3003 * 2097 - face) / 3 / 1e3)


def test_exact_fit() -> None:
    """(2997 + 3) / 300 = 10 and (2397 + 3) / 300 = 8."""
    assert counts(laid(rectangle(3007, 2407), (297, 297), perimeter_joint=5.0)) == (80, 0, 80, 80)


def test_strips_share_tiles_by_their_factory_edges() -> None:
    """13 x 9 whole; 13 pieces of 263 take a tile each, 10 strips of 51 come two from a tile: 117 + 13 + 5.
    With sawn edges at joints five strips come from one tile: 117 + 13 + 2."""
    ring = rectangle(4000, 3000)
    ruled = laid(ring, perimeter_joint=5.0)
    assert counts(ruled) == (117, 23, 140, 135)
    free = laid(ring, perimeter_joint=5.0, saw=Saw(2.0, sawn_edges_at_joints=True))
    assert counts(free) == (117, 23, 140, 132)
    assert (ruled.tiles_lower_bound, free.tiles_lower_bound) == (135, 132)


def test_balanced_room_of_300() -> None:
    """12 whole and 175.5 at each end, 8 whole and 281.5: nothing can be used again."""
    layout = laid(rectangle(4000, 3000), perimeter_joint=5.0, origin=(183.5, 289.5))
    assert counts(layout) == (96, 44, 140, 140)
    assert layout.narrowest_piece_mm == pytest.approx(175.5)


def test_offcut_of_a_wide_piece_gives_a_strip() -> None:
    """8 pieces of 600 x 370 leave 600 x 228 with a long factory edge each: 7 strips of 164 come from them."""
    layout = laid(rectangle(5000, 4000), (600, 600))
    assert counts(layout) == (48, 15, 63, 56)
    assert layout.tiles_lower_bound == 56


def test_balanced_room_of_600() -> None:
    """7 whole and 382 at each end, 5 whole and 485."""
    assert counts(laid(rectangle(5000, 4000), (600, 600), origin=(391, 494))) == (35, 28, 63, 63)


def test_feet_and_inches() -> None:
    """10 x 12 ft, module 12 in, gap 1/4: corner 9 x 11 whole and cuts of 11.5 in; balanced 8 x 10 whole."""
    ring, tile, joint = rectangle(120 * IN, 144 * IN), (11.8125 * IN, 11.8125 * IN), 0.1875 * IN
    corner = laid(ring, tile, joint=joint, perimeter_joint=0.25 * IN)
    assert counts(corner)[:3] == (99, 21, 120)
    assert corner.narrowest_piece_mm == pytest.approx(11.5 * IN)
    start = 0.25 * IN + 11.65625 * IN + joint
    balanced = laid(ring, tile, joint=joint, perimeter_joint=0.25 * IN, origin=(start, start))
    assert counts(balanced) == (80, 40, 120, 120)
    assert balanced.narrowest_piece_mm == pytest.approx(11.65625 * IN)


def test_l_room_on_the_module() -> None:
    """48 less a notch of 2 x 3."""
    ring = ((0, 0), (4000, 0), (4000, 1500), (3000, 1500), (3000, 3000), (0, 3000))
    assert counts(laid(ring, (500, 500), **NO_JOINTS)) == (42, 0, 42, 42)


def test_half_bond() -> None:
    """10 rows: 5 of 5 whole, 5 of 4 whole and 2 halves; two halves to a tile."""
    pattern = Pattern("running_bond", Fraction(1, 2))
    layout = laid(rectangle(3000, 2000), (600, 200), pattern=pattern, **NO_JOINTS)
    assert counts(layout) == (45, 10, 55, 50)


@pytest.mark.parametrize(("kerf", "needed"), [(2.0, 50), (3.0, 50), (4.0, 55)])
def test_two_halves_need_a_kerf_no_wider_than_the_joint(kerf: float, needed: int) -> None:
    """Each half is (600 - 3) / 2 in a room of 5 x 600 + 4 x 3: 597 + kerf within 600."""
    pattern = Pattern("running_bond", Fraction(1, 2))
    ring = rectangle(3012, 2027)
    layout = laid(ring, (600, 200), pattern=pattern, joint=3.0, perimeter_joint=0.0, saw=Saw(kerf))
    assert counts(layout) == (45, 10, 55, needed)


def test_third_bond() -> None:
    """9 rows, offsets 0, 200, 400: 15 + 12 + 12 whole; 6 pieces of 200 and 6 of 400 from 6 tiles."""
    pattern = Pattern("running_bond", Fraction(1, 3))
    layout = laid(rectangle(3000, 1800), (600, 200), pattern=pattern, **NO_JOINTS)
    assert counts(layout) == (39, 12, 51, 45)


@pytest.mark.parametrize(
    ("origin", "whole", "cut", "diagonal"), [((0.0, 0.0), 38, 20, 20), ((0.0, -250.0), 39, 20, 24)]
)
def test_diagonal(origin: tuple[float, float], whole: int, cut: int, diagonal: int) -> None:
    """6 x 4 diagonals of 500: with the room's corners on tile corners 2mn - m - n whole and 2 (m + n) halves;
    with them on tile middles 39 whole, 16 halves and 4 quarters of two cuts. Either way 48 tiles."""
    side = 500 / math.sqrt(2)
    layout = laid(
        rectangle(3000, 2000), (side, side), pattern=Pattern(rotation=45.0), origin=origin, **NO_JOINTS
    )
    assert counts(layout) == (whole, cut, whole + cut, 48)
    assert layout.cuts == Cuts(diagonal=diagonal)
    assert layout.tiles_lower_bound == 48


def test_position_split_by_a_column_gives_two_pieces() -> None:
    """A 100 wide column through one tile of a single course leaves 100 on either side."""
    ring = rectangle(900, 300)
    column = Obstruction("column", ((400, 0), (500, 0), (500, 300), (400, 300)))
    layout = laid(ring, obstructions=(column,), **NO_JOINTS)
    assert counts(layout)[:3] == (2, 1, 4)
    assert layout.cuts == Cuts(straight=2)


def test_sliver_is_not_laid() -> None:
    """3 x 300 and 9 over, under the least piece of 10."""
    layout = laid(rectangle(909, 300), **NO_JOINTS)
    assert counts(layout) == (3, 0, 3, 3)
    assert layout.unlaid_slivers == 1
    assert layout.unlaid_area_m2 == pytest.approx(9 * 300 / 1e6)
    assert counts(laid(rectangle(909, 300), min_piece=9.0, **NO_JOINTS)) == (3, 1, 4, 4)


def test_mosaic_narrower_than_the_least_piece_is_laid() -> None:
    assert counts(laid(rectangle(80, 80), (8, 8), **NO_JOINTS))[0] == 100


def test_tile_on_a_doorway_reaches_through_the_strip() -> None:
    """Without the doorway the first course begins 6 in; in it the field is 6 deeper."""
    layout = laid(rectangle(612, 312), joint=0.0, min_piece=0.0, doorways=(Doorway(0, 100, 400),))
    assert counts(layout)[:3] == (2, 2, 4)
    assert layout.tiled_area_m2 == pytest.approx((600 * 300 + 400 * 6) / 1e6)


def column(x: float, y: float, w: float, h: float) -> Obstruction:
    return Obstruction("column", ((x, y), (x + w, y), (x + w, y + h), (x, y + h)))


CUTS = [
    ("notch in a corner", column(0, 0, 100, 100), Cuts(notch_l=1)),
    ("notch in a side", column(100, 0, 100, 80), Cuts(notch_u=1)),
    ("square hole", column(100, 100, 100, 100), Cuts(hole=1)),
    ("strip off a side", column(0, 0, 300, 80), Cuts(straight=1)),
    (
        "strips off two sides",
        Obstruction("fixture", ((0, 0), (600, 0), (600, 80), (80, 80), (80, 600), (0, 600))),
        Cuts(straight=4),
    ),
    ("round hole", Obstruction("column", centre=(150, 150), diameter=100), Cuts(hole=1)),
    ("curves", Obstruction("column", centre=(300, 150), diameter=120), Cuts(curve=2)),
    ("curve at a wall", Obstruction("column", centre=(150, 60), diameter=120), Cuts(curve=1)),
    ("corner off", Obstruction("column", ((0, 0), (100, 0), (0, 100))), Cuts(diagonal=1)),
    ("drain in a tile", Obstruction("drain", centre=(150, 150), diameter=110), Cuts(hole=1)),
    ("drain over an edge", Obstruction("drain", centre=(300, 150), diameter=110), Cuts(curve=2)),
    ("pipe at four tiles", Obstruction("pipe", centre=(300, 300), diameter=40), Cuts(curve=4)),
    ("square drain", Obstruction("drain", ((100, 100), (200, 100), (200, 200), (100, 200))), Cuts(hole=1)),
    ("drain to the wall", Obstruction("drain", ((100, 0), (200, 0), (200, 90), (100, 90))), Cuts(notch_u=1)),
    ("hatch", Obstruction("hatch", ((100, 100), (200, 100), (200, 200), (100, 200))), Cuts()),
    ("pipe of unknown size", Obstruction("pipe", centre=(150, 150)), Cuts()),
]


@pytest.mark.parametrize(("name", "obstruction", "cuts"), CUTS, ids=[case[0] for case in CUTS])
def test_cuts_are_told_apart(name: str, obstruction: Obstruction, cuts: Cuts) -> None:
    """Four tiles of 300 edge to edge, one thing in the way."""
    assert laid(rectangle(600, 600), obstructions=(obstruction,), **NO_JOINTS).cuts == cuts


def test_pierced_tile_counts_whole_and_is_drawn_as_cut() -> None:
    drain = Obstruction("drain", centre=(150, 150), diameter=110)
    layout = laid(rectangle(600, 600), obstructions=(drain,), **NO_JOINTS)
    assert counts(layout) == (4, 0, 4, 4)
    assert layout.cut_length_m == pytest.approx(0.11 * math.pi, rel=1e-3)
    assert layout.plan is not None
    assert [piece.cuts for piece in layout.plan.cut] == [Cuts(hole=1)]
    assert sum(run.last - run.first + 1 for run in layout.plan.whole) == 3


def test_centre_origins() -> None:
    """Field 988 x 988: the middle is at 500; a tile there begins at 350, the tile beside a joint at 501.5."""
    assert laid(rectangle(1000, 1000), origin="centre_tile").origin == pytest.approx((350, 350))
    assert laid(rectangle(1000, 1000), origin="centre_joint").origin == pytest.approx((501.5, 501.5))


def test_centre_tile_on_the_diagonal_puts_the_tiles_middle_there() -> None:
    x, y = laid(rectangle(1000, 1000), origin="centre_tile", pattern=Pattern(rotation=45.0)).origin or (0, 0)
    assert (x, y + 150 * math.sqrt(2)) == pytest.approx((500, 500))


def test_corner_origin_on_the_diagonal_is_the_low_corner() -> None:
    assert laid(rectangle(1000, 1000), pattern=Pattern(rotation=45.0)).origin == (6.0, 6.0)


def test_edge_to_edge_joints_are_half_the_sides_within() -> None:
    """Two by two tiles of 300: 600 up and 600 across."""
    assert laid(rectangle(600, 600), **NO_JOINTS).joint_length_m == pytest.approx(1.2)


def test_nominal_size_has_the_joint_in_it() -> None:
    room = room_of(rectangle(3000, 2400), tile=Tile(300, 300, size_is="nominal"), perimeter_joint=0.0)
    layout = lay_out(room, floor_shape(room), VALUES)
    assert layout.plan is not None
    assert layout.plan.lattice.tile_length_mm == 297
