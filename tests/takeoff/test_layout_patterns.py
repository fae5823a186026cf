"""Herringbone, basket weave, hexagon and modular floors: their tilings, and counts by brute force."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Polygon, affinity

from service.takeoff.answer import Layout
from service.takeoff.errors import InputError
from service.takeoff.geometry import floor_shape
from service.takeoff.lattice import Repeat, repeat_of
from service.takeoff.laying import Ground, lay, narrowest_share
from service.takeoff.layout import lay_out
from service.takeoff.room import BareArea, Obstruction, Pattern, Room, Saw, Tile
from service.takeoff.tried import step_of
from service.trade.values import load_trade_values
from tests.takeoff.outlines import rectangle, rectilinear, room_of, star

VALUES = load_trade_values("us", date(2026, 6, 1))
TOLERANCE = 1e-3
SQUARES = (Tile(400, 400), Tile(200, 200))


def pattern_room(kind: str, tile: Tile, joint: float, rotation: float = 0.0, **said: Any) -> Room:
    tiles = SQUARES if kind == "modular" else ()
    said.setdefault("origin", "corner")
    pattern = Pattern(kind, rotation=rotation, tiles=tiles)  # type: ignore[arg-type]
    return room_of(rectangle(3000, 2400), tile=tile, joint=joint, pattern=pattern, **said)


PATTERNS = [
    ("herringbone", Tile(600, 300), 3.0),
    ("herringbone", Tile(500, 90), 2.0),
    ("basket_weave", Tile(600, 300), 3.0),
    ("basket_weave", Tile(297, 97), 3.0),
    ("hexagon", Tile(200, 200), 3.0),
    ("modular", Tile(400, 400), 3.0),
]


def cells(repeat: Repeat, reach: int) -> list[Polygon]:
    """The tiles of all cells around the origin."""
    return [
        affinity.translate(
            Polygon(tile),
            column * repeat.step_x + row * repeat.shift,
            column * repeat.rise + row * repeat.step_y,
        )
        for row in range(-reach, reach + 1)
        for column in range(-reach, reach + 1)
        for tile in repeat.tiles
    ]


@pytest.mark.parametrize(("kind", "tile", "joint"), PATTERNS)
def test_tiles_keep_the_joint_and_fill_the_plane(kind: str, tile: Tile, joint: float) -> None:
    """No two tiles are nearer than the joint, and with half a joint around each they leave no gap; basket
    weave of tile exactly twice as long as wide has one end joint wider by a joint."""
    repeat = repeat_of(pattern_room(kind, tile, joint))
    tiles = cells(repeat, 14)
    tree = shapely.STRtree(tiles)
    one, other = tree.query(tiles, predicate="dwithin", distance=joint - TOLERANCE)
    assert (one == other).all()
    wide = joint if (kind, tile.length) == ("basket_weave", 600) else joint / 2
    around = [t.buffer(wide + TOLERANCE, join_style="mitre") for t in tiles]
    assert shapely.union_all(around).buffer(0.01).covers(shapely.box(-900, -900, 900, 900))
    assert len(repeat.tiles) / repeat.area == repeat.tiles_per_mm2


def test_hexagons_by_the_square_metre() -> None:
    """200 across flats: 1 / (0.8660254 x 0.04) = 28.868 without a joint, 28.021 at 3 mm (derived)."""
    per_m2 = [
        repeat_of(pattern_room("hexagon", Tile(200, 200), joint)).tiles_per_mm2 * 1e6 for joint in (0.0, 3.0)
    ]
    assert per_m2 == pytest.approx([28.8675, 28.0206], abs=1e-4)


@st.composite
def pattern_rooms(draw: st.DrawFn) -> Room:
    kind, tile, _ = draw(st.sampled_from(PATTERNS))
    room = pattern_room(kind, tile, 3.0, draw(st.sampled_from((0.0, 45.0, 20.0))))
    return replace(
        room,
        shape=draw(st.one_of(rectilinear(largest=2500), star(largest=1800))),
        origin=draw(st.sampled_from(("corner", "centre_tile", (77.0, -33.0)))),
        min_piece=draw(st.sampled_from((0.0, 10.0))),
    )


def brute_force(room: Room, layout: Layout) -> tuple[int, int, int, float]:
    """Whole tiles, cut tiles, pieces and their area, every tile of a generous lattice clipped by shapely."""
    assert layout.origin is not None
    field = floor_shape(room).field
    ox, oy = layout.origin
    turn = room.pattern.rotation
    upright = affinity.translate(affinity.rotate(field, -turn, origin=(ox, oy)), -ox, -oy)
    repeat = repeat_of(room)
    x0, y0, x1, y1 = upright.bounds
    corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
    basis = np.array([[repeat.step_x, repeat.shift], [repeat.rise, repeat.step_y]])
    reach = int(np.abs(np.linalg.solve(basis, corners.T)).max()) + 4
    tiles = [tile for tile in cells(repeat, reach) if tile.intersects(shapely.box(x0, y0, x1, y1))]
    roomy = upright.buffer(TOLERANCE, join_style="mitre")
    whole = cut = pieces = 0
    area = 0.0
    for tile in tiles:
        parts = [p for p in shapely.get_parts(upright.intersection(tile)) if isinstance(p, Polygon)]
        parts = [p for p in parts if p.area > TOLERANCE * p.length / 2]
        sides = [min(b[2] - b[0], b[3] - b[1]) for b in (p.bounds for p in parts)]
        laid = [p for p, side in zip(parts, sides, strict=True) if side >= room.min_piece - TOLERANCE]
        tip = any(p.area > tile.area - 1.0 and nicked(p, tile) for p in parts)  # no saw takes under 1 mm2
        is_whole = tip or roomy.covers(tile)
        whole += is_whole
        cut += bool(laid) and not is_whole
        pieces += len(laid)
        area += tile.area if is_whole else sum(p.area for p in laid)
    return whole, cut, pieces, area


def nicked(part: Polygon, tile: Polygon) -> bool:
    """Whether corners of the tile are cut off and nothing is cut out."""
    more = len(part.exterior.coords) > len(tile.exterior.coords)
    return more and part.convex_hull.area - part.area < TOLERANCE


def test_the_tip_of_a_corner_is_no_cut() -> None:
    """Hexagons turned by 20 degrees, started so that a corner reaches 0.2 mm over the edge of the field."""
    pattern = Pattern("hexagon", rotation=20.0)
    hexagon = repeat_of(pattern_room("hexagon", Tile(200, 200), 3.0)).tiles[0]
    leftmost = affinity.rotate(Polygon(hexagon), 20.0, origin=(0, 0)).bounds[0]
    start = (6.0 - 0.2 - leftmost, 1000.0)
    room = room_of(rectangle(4100, 2400), tile=Tile(200, 200), pattern=pattern, origin=start)
    plan = lay_out(room, floor_shape(room), VALUES).plan
    assert plan is not None
    whole = Polygon(plan.lattice.tiles[0]).area
    assert (0, 0) not in {(piece.row, piece.column) for piece in plan.cut}
    assert all(whole - Polygon(piece.outline).area > 1.0 for piece in plan.cut)


@settings(max_examples=40, deadline=None)
@given(pattern_rooms())
def test_counts_agree_with_brute_force(room: Room) -> None:
    try:
        shape = floor_shape(room)
    except InputError:
        assume(False)
        raise
    layout = lay_out(room, shape, VALUES)
    whole, cut, pieces, area = brute_force(room, layout)
    assert (layout.whole_tiles, layout.cut_tiles, layout.pieces) == (whole, cut, pieces)
    assert layout.tiled_area_m2 * 1e6 == pytest.approx(area, abs=1.0)
    assert layout.tiles_lower_bound <= layout.tiles_needed <= whole + pieces
    assert sum(count for *_, count in layout.tiles_by_size) == layout.tiles_needed


def test_basket_weave_on_its_module() -> None:
    """Blocks of two 600 x 300, edge to edge: 5 x 4 blocks of 600 in 3000 x 2400."""
    room = pattern_room("basket_weave", Tile(600, 300), 0.0, perimeter_joint=0.0)
    layout = lay_out(room, floor_shape(room), VALUES)
    assert (layout.whole_tiles, layout.cut_tiles, layout.tiles_needed) == (40, 0, 40)


def test_herringbone_cuts_of_both_ways_share_tiles() -> None:
    """Upright and lying pieces are cut from one kind of tile."""
    room = pattern_room("herringbone", Tile(600, 300), 0.0, perimeter_joint=0.0, saw=Saw(0.0))
    layout = lay_out(room, floor_shape(room), VALUES)
    assert len(layout.tiles_by_size) == 1
    assert layout.tiles_needed == layout.tiles_lower_bound == 40


def test_pipe_through_a_hexagon_is_a_hole() -> None:
    pipe = Obstruction("pipe", centre=(6 + 100 + 203, 6 + 200 / math.sqrt(3)), diameter=60)
    room = pattern_room("hexagon", Tile(200, 200), 3.0, obstructions=(pipe,))
    assert lay_out(room, floor_shape(room), VALUES).cuts.hole == 1


@pytest.mark.parametrize("kind", ["herringbone", "basket_weave", "hexagon", "modular"])
def test_best_origin_leaves_no_narrower_pieces_than_the_corner(kind: str) -> None:
    """In steps of a half, a third, a quarter and an eighth of the tile's side."""
    room = pattern_room(kind, Tile(600, 300) if kind != "hexagon" else Tile(200, 200), 3.0)
    shape = floor_shape(room)
    ground, repeat = Ground(shape.field), repeat_of(room)

    def step(origin: str) -> int:
        start = lay_out(replace(room, origin=origin), shape, VALUES).origin  # type: ignore[arg-type]
        assert start is not None
        return step_of(narrowest_share(lay(ground, repeat, start, room.min_piece), room.joint))

    assert step("best") <= step("corner")


@pytest.mark.parametrize("kind", ["herringbone", "basket_weave", "hexagon", "modular"])
def test_allowance_of_every_pattern(kind: str) -> None:
    room = replace(pattern_room(kind, Tile(600, 300), 3.0), shape=BareArea(12.0, 14000.0))
    layout = lay_out(room, floor_shape(room), VALUES)
    assert layout.tiles_needed > layout.tiles_lower_bound > 0
    assert 0 < layout.tiled_area_m2 < 12
    bought = layout.tiled_area_m2 * (1 + layout.wastage_percent / 100)
    cell = repeat_of(room).tiles
    of_a_tile = math.fsum(Polygon(tile).area for tile in cell) / len(cell) / 1e6
    assert bought == pytest.approx(layout.tiles_needed * of_a_tile)


@pytest.mark.parametrize(
    ("pointer", "room"),
    [
        ("/pattern/kind", pattern_room("herringbone", Tile(300, 300), 3.0)),
        ("/pattern/kind", pattern_room("basket_weave", Tile(600, 250), 3.0)),
        ("/pattern/kind", pattern_room("basket_weave", Tile(300, 300), 3.0)),
        ("/pattern/tiles", replace(pattern_room("modular", Tile(300, 300), 3.0), pattern=Pattern("modular"))),
        (
            "/pattern/tiles",
            room_of(rectangle(3000, 2400), pattern=Pattern("modular", tiles=(Tile(300, 300),) * 2)),
        ),
    ],
)
def test_tile_that_cannot_make_the_pattern_is_refused(pointer: str, room: Room) -> None:
    with pytest.raises(InputError) as refused:
        lay_out(room, floor_shape(room), VALUES)
    assert refused.value.pointer == pointer
