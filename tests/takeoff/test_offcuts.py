"""Offcuts used again: textbook cutting-stock instances, the edge rule by hand, and exhaustive small cases."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon

from service.takeoff.guillotine import BOTTOM, LEFT, RIGHT, TOP, Box, best_fit
from service.takeoff.offcuts import Piece, TileSize, cut_from_tiles
from service.takeoff.room import Saw

STRIP = LEFT | BOTTOM | TOP
TILE = TileSize(300, 300, 90000)


def tiles_needed(pieces: Sequence[Piece], tile: TileSize, saw: Saw) -> tuple[int, int]:
    """The count and the bound, once every piece is found to come from one tile."""
    cutting = cut_from_tiles(pieces, tile, saw)
    assert sorted(number for each in cutting.tiles for number in each) == list(range(len(pieces)))
    return cutting.count, cutting.bound


def boxes(*sizes: tuple[float, float, int, int]) -> list[Piece]:
    """Rectangles as (length, width, sides, count)."""
    return [Piece(Box(a, b, sides), a * b) for a, b, sides, count in sizes for _ in range(count)]


def sticks(length: float, kerf: float, *pieces: tuple[float, int]) -> tuple[int, int]:
    """A one-dimensional instance: pieces of the tile's full width with no edge rule."""
    held = boxes(*((piece, 100.0, 0, count) for piece, count in pieces))
    return tiles_needed(held, TileSize(length, 100, length * 100), Saw(kerf))


@pytest.mark.parametrize(
    ("length", "kerf", "pieces", "optimum"),
    [
        (2500, 0, [(1600, 5), (900, 5)], 5),
        (2500, 3, [(1600, 5), (900, 5)], 8),
        (2500, 0, [(1300, 7)], 7),
        (96, 0, [(48, 3), (32, 5)], 4),
        (2500, 3, [(1250, 1), (1000, 1), (750, 3), (500, 1)], 3),
    ],
)
def test_one_dimensional_instances(
    length: float, kerf: float, pieces: list[tuple[float, int]], optimum: int
) -> None:
    """Provable by hand: no waste; the kerf that spoils it; halves; an eight-foot stick (derived)."""
    needed, bound = sticks(length, kerf, *pieces)
    assert needed == optimum
    assert bound <= optimum


def test_halves_are_bounded_by_pairs_not_by_area() -> None:
    """7 pieces of 1300 in 2500 have 4 tiles' area, but no two share a tile."""
    assert sticks(2500, 0, (1300, 7)) == (7, 7)


def test_strips_with_a_long_factory_edge_come_two_from_a_tile() -> None:
    assert tiles_needed(boxes((51, 300, STRIP, 10)), TILE, Saw(2)) == (5, 5)
    assert tiles_needed(boxes((51, 300, STRIP, 10)), TILE, Saw(2, True)) == (2, 2)


def test_corner_pieces_come_four_from_a_tile() -> None:
    """149 + 2 + 149 = 300; a millimetre more and only one fits."""
    assert tiles_needed(boxes((149, 149, LEFT | BOTTOM, 8)), TILE, Saw(2)) == (2, 2)
    assert tiles_needed(boxes((150, 150, LEFT | BOTTOM, 8)), TILE, Saw(2)) == (8, 8)


def test_pieces_between_two_joints_are_ripped_side_by_side() -> None:
    """Full length, sawn on both sides: 3 x 98 + 2 x 2 = 298 of 300."""
    assert tiles_needed(boxes((300, 98, LEFT | RIGHT, 6)), TILE, Saw(2)) == (2, 2)


def test_strip_of_an_oblong_tile_cannot_be_turned() -> None:
    """A strip across a 600 x 200 tile needs its 200 long factory edge: two a tile, however narrow."""
    tile = TileSize(600, 200, 120_000)
    assert tiles_needed(boxes((20, 200, STRIP, 6)), tile, Saw(2)) == (3, 3)


def test_two_triangles_come_from_one_tile_only_without_a_kerf() -> None:
    half = Polygon([(0, 0), (300, 0), (0, 300)])
    pieces = [Piece(Box(300, 300, LEFT | BOTTOM), half.area, half)] * 4
    assert tiles_needed(pieces, TILE, Saw(0)) == (2, 2)
    assert tiles_needed(pieces, TILE, Saw(2))[0] == 4


def test_smaller_triangles_share_with_a_kerf() -> None:
    """Legs of 295: the sawn edges are (600 - 590) / sqrt(2) = 7.07 apart, wider than the kerf."""
    part = Polygon([(0, 0), (295, 0), (0, 295)])
    assert tiles_needed([Piece(Box(295, 295, LEFT | BOTTOM), part.area, part)] * 4, TILE, Saw(2))[0] == 2
    assert tiles_needed([Piece(Box(295, 295, LEFT | BOTTOM), part.area, part)] * 4, TILE, Saw(8))[0] == 4


def test_rectangle_comes_from_the_rest_of_an_odd_piece() -> None:
    odd = Polygon([(0, 0), (200, 0), (200, 300), (50, 300), (0, 200)])
    pieces = [Piece(Box(200, 300, LEFT | BOTTOM | TOP), odd.area, odd), *boxes((90, 300, STRIP, 1))]
    assert tiles_needed(pieces, TILE, Saw(2))[0] == 1


def test_notch_serves_a_rectangle_that_can_be_moved() -> None:
    """A piece cut out round a column leaves 200 x 150 in its notch, 196 x 146 clear of the saw's cut."""
    notched = Polygon([(0, 0), (300, 0), (300, 300), (250, 300), (250, 150), (50, 150), (50, 300), (0, 300)])
    piece = Piece(Box(300, 300), notched.area, notched)
    assert tiles_needed([piece, *boxes((196, 146, 0, 1))], TILE, Saw(2)) == (1, 1)
    assert tiles_needed([piece, *boxes((198, 146, 0, 1))], TILE, Saw(2))[0] == 2


def test_nothing_needs_nothing() -> None:
    assert tiles_needed([], TILE, Saw()) == (0, 0)


@settings(max_examples=200, deadline=None)
@given(
    st.integers(1, 300), st.integers(1, 300), st.integers(0, 15), st.integers(0, 15), st.sampled_from([0, 2])
)
def test_a_cut_leaves_what_was_there_less_the_piece(
    length: int, width: int, needs: int, factory: int, kerf: float
) -> None:
    """Piece, rests and kerfs fit into the rectangle; factory sides do not grow."""
    rest = Box(300, 300, factory)
    fit = best_fit(Box(length, width, needs), rest, kerf)
    if fit is None:
        return
    assert needs.bit_count() <= factory.bit_count()
    assert length * width + math.fsum(box.area for box in fit.rests) <= rest.area + 1e-6
    assert all(box.sides & ~factory == 0 for box in fit.rests)


def partitions(items: Sequence[int]) -> Iterator[list[list[int]]]:
    """All ways to part items into groups."""
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for parts in partitions(rest):
        yield [[first], *parts]
        for i in range(len(parts)):
            yield [*parts[:i], [first, *parts[i]], *parts[i + 1 :]]


def fewest(lengths: Sequence[int], kerf: int, most: int) -> int:
    """The optimum for pieces of full width, at most `most` of them in a tile of 300."""

    def fits(group: list[int]) -> bool:
        return len(group) <= most and sum(group) + kerf * (len(group) - 1) <= 300

    return min(len(parts) for parts in partitions(lengths) if all(map(fits, parts)))


@settings(max_examples=150, deadline=None)
@given(st.lists(st.integers(20, 299), min_size=1, max_size=6), st.sampled_from([0, 2, 5]), st.booleans())
def test_bound_and_answer_enclose_the_optimum(lengths: list[int], kerf: int, free: bool) -> None:
    """Exhaustively: strips across a tile 300 long and 500 wide, which cannot be turned."""
    tile = TileSize(300, 500, 150_000)
    pieces = boxes(*((length, 500, STRIP, 1) for length in lengths))
    needed, bound = tiles_needed(pieces, tile, Saw(kerf, sawn_edges_at_joints=free))
    optimum = fewest(lengths, kerf, len(lengths) if free else 2)
    assert bound <= optimum <= needed
    assert needed <= optimum + 1


@given(st.integers(0, 15))
def test_four_quarter_turns_are_none(sides: int) -> None:
    box = Box(30, 20, sides)
    turned = [box]
    for _ in range(4):
        turned.append(turned[-1].turned())
    assert turned[-1] == box
    assert all(a.sides.bit_count() == b.sides.bit_count() for a, b in pairwise(turned))
