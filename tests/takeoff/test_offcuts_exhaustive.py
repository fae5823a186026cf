"""Offcuts against the true optimum, found by trying every way to share out a few pieces.

The search below knows nothing of the service's: it puts pieces into a small tile at every whole millimetre
and every quarter turn, one after the other, and parts the pieces among tiles in every way.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import product

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from service.takeoff.guillotine import BOTTOM, LEFT, RIGHT, TOP, Box
from service.takeoff.offcuts import Piece, TileSize, cut_from_tiles
from service.takeoff.room import Saw

SQUARE, OBLONG = TileSize(10, 10, 100), TileSize(12, 8, 96)
HELD = (LEFT | BOTTOM, LEFT | BOTTOM | TOP, LEFT | BOTTOM | RIGHT, LEFT | RIGHT, BOTTOM, 0)


def turned(piece: Polygon, sides: int, quarters: int) -> tuple[Polygon, int]:
    for _ in range(quarters):
        piece = affinity.affine_transform(piece, [0, -1, 1, 0, 0, 0])
        sides = (sides << 1 | sides >> 3) & 15
    x, y = piece.bounds[:2]
    return affinity.translate(piece, -x, -y), sides


def places(piece: Polygon, sides: int, tile: TileSize) -> Iterator[Polygon]:
    """Every quarter turn at every whole millimetre, the factory sides on the tile's sides."""
    for quarters in (0,) if tile.directional else range(4):
        way, needs = turned(piece, sides, quarters)
        _, _, length, width = way.bounds
        for x, y in product(range(int(tile.length - length) + 1), range(int(tile.width - width) + 1)):
            off = (x, y, tile.length - x - length, tile.width - y - width)
            held = zip((LEFT, BOTTOM, RIGHT, TOP), off, strict=True)
            if all(gap < 1e-9 for side, gap in held if needs & side):
                yield affinity.translate(way, x, y)


def along(one: Polygon, other: Polygon) -> float:
    """The gap between two rectangles along the tile's sides."""
    a, b = one.bounds, other.bounds
    return max(a[0] - b[2], b[0] - a[2], a[1] - b[3], b[1] - a[3])


def apart(one: Polygon, other: Polygon) -> float:
    return one.distance(other) if one.intersection(other).area < 1e-9 else -1.0


def fewest(
    pieces: Sequence[tuple[Polygon, int]],
    tile: TileSize,
    kerf: float,
    gap: Callable[[Polygon, Polygon], float],
) -> int:
    ways = [list(places(piece, sides, tile)) for piece, sides in pieces]

    def fits(rest: Sequence[int], there: tuple[Polygon, ...]) -> bool:
        return not rest or any(
            all(gap(way, other) >= kerf - 1e-9 for other in there) and fits(rest[1:], (*there, way))
            for way in ways[rest[0]]
        )

    @cache
    def tiles(left: int) -> int:
        if not left:
            return 0
        first = left & -left
        best, part = len(pieces), left
        while part:
            if part & first and tiles(left & ~part) + 1 < best + 1 and together(part):
                best = min(best, 1 + tiles(left & ~part))
            part = (part - 1) & left
        return best

    @cache
    def together(part: int) -> bool:
        members = [i for i in range(len(pieces)) if part >> i & 1]
        if math.fsum(pieces[i][0].area for i in members) > tile.area:
            return False
        return fits(sorted(members, key=lambda i: len(ways[i])), ())

    return tiles((1 << len(pieces)) - 1)


def rectangles(tile: TileSize, held: Sequence[int]) -> st.SearchStrategy[tuple[Polygon, int]]:
    """Rectangles; one with two opposite factory sides goes from side to side."""

    def made(length: int, width: int, sides: int) -> tuple[Polygon, int]:
        long = tile.length if sides & (LEFT | RIGHT) == LEFT | RIGHT else length
        wide = tile.width if sides & (BOTTOM | TOP) == BOTTOM | TOP else width
        return box(0, 0, long, wide), sides

    sizes = st.integers(2, int(tile.length) - 1), st.integers(2, int(tile.width) - 1)
    return st.builds(made, *sizes, st.sampled_from(held))


def as_piece(piece: Polygon, sides: int) -> Piece:
    _, _, length, width = piece.bounds
    return Piece(Box(length, width, sides), piece.area)


@pytest.mark.parametrize("tile", [SQUARE, OBLONG, TileSize(12, 8, 96, directional=True)])
def test_rectangles_in_their_place_take_the_fewest_tiles(tile: TileSize) -> None:
    @settings(max_examples=40, deadline=None)
    @given(st.lists(rectangles(tile, HELD[:3]), min_size=1, max_size=6), st.sampled_from([0, 1]))
    def check(pieces: list[tuple[Polygon, int]], kerf: int) -> None:
        cutting = cut_from_tiles([as_piece(*piece) for piece in pieces], tile, Saw(kerf))
        optimum = fewest(pieces, tile, kerf, along)
        assert cutting.bound <= optimum == cutting.count

    check()


@pytest.mark.parametrize("tile", [SQUARE, OBLONG])
def test_rectangles_that_can_be_moved(tile: TileSize) -> None:
    """A grid of whole millimetres holds every packing of pieces of whole millimetres, pushed together."""

    @settings(max_examples=20, deadline=None)
    @given(st.lists(rectangles(tile, HELD), min_size=1, max_size=4), st.sampled_from([0, 1]), st.booleans())
    def check(pieces: list[tuple[Polygon, int]], kerf: int, free: bool) -> None:
        cutting = cut_from_tiles([as_piece(*piece) for piece in pieces], tile, Saw(kerf, free))
        optimum = fewest([(piece, 0 if free else sides) for piece, sides in pieces], tile, kerf, along)
        assert cutting.bound <= optimum <= cutting.count <= optimum + 1

    check()


@st.composite
def parts_of_a_tile(draw: st.DrawFn, tile: TileSize) -> tuple[Polygon, int]:
    """What one saw cut from one side of the tile to another leaves, with the sides that it still has."""
    points = [(x, y) for x in range(int(tile.length) + 1) for y in range(int(tile.width) + 1)]
    rim = [p for p in points if p[0] in (0, tile.length) or p[1] in (0, tile.width)]
    (xa, ya), (xb, yb) = draw(st.lists(st.sampled_from(rim), min_size=2, max_size=2, unique=True))
    far = 100 / math.hypot(xb - xa, yb - ya)
    dx, dy = far * (xb - xa), far * (yb - ya)
    left = Polygon([(xa - dx, ya - dy), (xb + dx, yb + dy), (xb - dy, yb + dx), (xa - dy, ya + dx)])
    cut = box(0, 0, tile.length, tile.width).intersection(left)
    part = shapely.transform(cut, lambda points: points.round(9))
    ends = ((0, 0, 0, tile.width), (0, 0, tile.length, 0))
    ends += ((tile.length, 0, tile.length, tile.width), (0, tile.width, tile.length, tile.width))
    sides = (LEFT, BOTTOM, RIGHT, TOP)
    runs = (part.boundary.intersection(Polygon([(a, b), (c, d), (c, d)]).boundary) for a, b, c, d in ends)
    held = sum(side for side, run in zip(sides, runs, strict=True) if run.length > 1e-6)
    return part, held


@pytest.mark.parametrize("tile", [SQUARE, OBLONG])
def test_parts_of_tiles_cut_askew_take_the_fewest_tiles(tile: TileSize) -> None:
    """Every such part has a corner of the tile, hence one place for each turn."""

    @settings(max_examples=40, deadline=None)
    @given(st.lists(parts_of_a_tile(tile), min_size=1, max_size=5), st.sampled_from([0, 1]))
    def check(drawn: list[tuple[Polygon, int]], kerf: int) -> None:
        pieces = [(part, sides) for part, sides in drawn if part.area > 1]
        held = [
            Piece(
                Box(*(part.bounds[2] - part.bounds[0], part.bounds[3] - part.bounds[1]), sides),
                part.area,
                part,
            )
            for part, sides in pieces
        ]
        cutting = cut_from_tiles(held, tile, Saw(kerf))
        optimum = fewest(pieces, tile, kerf, apart)
        assert cutting.bound <= optimum == cutting.count

    check()


@settings(max_examples=30, deadline=None)
@given(st.lists(parts_of_a_tile(SQUARE), min_size=1, max_size=4), st.sampled_from([0, 1]))
def test_bound_of_parts_that_can_be_moved(drawn: list[tuple[Polygon, int]], kerf: int) -> None:
    pieces = [(part, 0) for part, _ in drawn if part.area > 1]
    held = [
        Piece(Box(part.bounds[2] - part.bounds[0], part.bounds[3] - part.bounds[1]), part.area, part)
        for part, _ in pieces
    ]
    assert cut_from_tiles(held, SQUARE, Saw(kerf, True)).bound <= fewest(pieces, SQUARE, kerf, apart)


@st.composite
def notched(draw: st.DrawFn) -> tuple[Polygon, int]:
    """A rectangle with a smaller one cut out of its edge or corner, or none."""
    length, width = draw(st.integers(3, 10)), draw(st.integers(3, 10))
    x, y = draw(st.integers(1, length)), draw(st.integers(1, width))
    left = box(0, 0, length, width).difference(box(x, y, x + draw(st.integers(1, 8)), width + 1))
    return left, draw(st.sampled_from((0, LEFT | BOTTOM)))


def check_notched(drawn: list[tuple[Polygon, int]], free: bool) -> None:
    """What is cut out for a column may hold a piece that touches no corner of the tile."""
    pieces = [(part, 0 if free else sides) for part, sides in drawn]
    held = [
        Piece(Box(*part.bounds[2:], sides), part.area, None if part.equals(part.envelope) else part)
        for part, sides in pieces
    ]
    cutting = cut_from_tiles(held, SQUARE, Saw(0, free))
    assert cutting.bound <= fewest(pieces, SQUARE, 0, apart) <= cutting.count


@settings(max_examples=15, deadline=None)
@given(st.lists(notched(), min_size=1, max_size=3), st.booleans())
def test_bound_of_notched_pieces_among_others(drawn: list[tuple[Polygon, int]], free: bool) -> None:
    check_notched(drawn, free)


@pytest.mark.full
@settings(max_examples=500, deadline=None)
@given(st.lists(notched(), min_size=1, max_size=4), st.booleans())
def test_bound_of_many_notched_pieces(drawn: list[tuple[Polygon, int]], free: bool) -> None:
    check_notched(drawn, free)
