"""Folds of floors laid to falls: by hand, and by shapely over every laid piece."""

from __future__ import annotations

from dataclasses import asdict, replace
from math import dist, hypot
from typing import Any

import pytest
from shapely import LineString, Polygon, box
from shapely.affinity import rotate, translate

from service.takeoff import falls, folds, take_off
from service.takeoff.answer import Cuts, Layout
from service.takeoff.crossings import sawn_along
from service.takeoff.cut_list import cut_list_of
from service.takeoff.folds import FoldsTake
from service.takeoff.geometry import floor_shape
from service.takeoff.layout import lay_out
from service.takeoff.room import Job, Obstruction, Pattern, Room, Tile
from service.takeoff.waterproofing_rules import fall_mm
from tests.takeoff.outlines import rectangle, room_of
from tests.takeoff.rooms import LABOUR, VALUES

EDGE = VALUES.number("falls.cone_edge")


def drain(x: float, y: float, diameter: float | None = 110.0) -> Obstruction:
    return Obstruction("drain", centre=(x, y), diameter=diameter)


def shower(*drains: Obstruction, size: tuple[float, float] = (3000, 2400), **said: Any) -> Room:
    return room_of(rectangle(*size), obstructions=drains, falls="point", origin="corner", **said)


def folded(room: Room) -> tuple[Layout, FoldsTake]:
    shape = floor_shape(room)
    layout = lay_out(room, shape, VALUES)
    return layout, folds.take(room, shape, layout, VALUES)


def rules(result: FoldsTake) -> dict[str, str]:
    return {finding.rule: finding.verdict for finding in result.step.findings}


def test_a_rectangle_folds_from_its_drain_to_its_four_corners() -> None:
    # By hand: the field begins 6 mm from the walls, the drain's edge lies 55 mm from its centre.
    _, result = folded(shower(drain(1200, 1000)))
    assert len(result.answer) == 4
    for corner in rectangle(3000, 2400):
        line = min(result.answer, key=lambda fold: min(dist(corner, end) for end in fold))
        near, far = sorted(dist(corner, end) for end in line)
        assert near == pytest.approx(6 * dist(corner, (1200, 1000)) / _least_way(corner), abs=0.5)
        assert far == pytest.approx(dist(corner, (1200, 1000)) - 55, abs=0.1)


def _least_way(corner: tuple[float, float]) -> float:
    """The longer side of the step from corner to drain over which the fold leaves the 6 mm strip last."""
    return min(abs(corner[0] - 1200), abs(corner[1] - 1000))


@pytest.mark.parametrize("rotation", [0.0, 30.0, 45.0])
def test_every_tile_on_a_fold_is_cut_along_it(rotation: float) -> None:
    # Brute force: the plan's pieces one by one, the tiles of the lattice clipped to the field by shapely.
    room = replace(shower(drain(1200, 1000)), pattern=Pattern(rotation=rotation), min_piece=0.0)
    layout, result = folded(room)
    hole = Polygon(floor_shape(room).obstructions[0])  # type: ignore[arg-type]
    pieces = [piece.difference(hole) for piece in clipped_tiles(layout)]
    crossed = [LineString(fold).intersection(piece).length for fold in result.answer for piece in pieces]
    lengths = [length for length in crossed if length > 0.5]
    assert _sawn(result.layout) - _sawn(layout) == len(lengths)
    assert result.layout.cut_length_m - layout.cut_length_m == pytest.approx(sum(lengths) / 1000, rel=1e-3)


def _sawn(layout: Layout) -> int:
    return layout.cuts.straight + layout.cuts.diagonal


def clipped_tiles(layout: Layout) -> list[Polygon]:
    """All tiles of the lattice that lie on the field, by shapely alone."""
    assert layout.plan is not None
    lattice, [rings] = layout.plan.lattice, layout.plan.field
    field = Polygon(rings[0], rings[1:])
    tile = box(0, 0, lattice.tile_length_mm, lattice.tile_width_mm)
    places = [
        (i * lattice.pitch_x_mm, j * lattice.pitch_y_mm) for i in range(-25, 26) for j in range(-25, 26)
    ]
    turned = (rotate(translate(tile, *place), lattice.rotation_deg, origin=(0, 0)) for place in places)
    laid = (translate(each, *lattice.origin).intersection(field) for each in turned)
    return [piece for piece in laid if isinstance(piece, Polygon) and piece.area > 1]


def test_halves_stay_in_place() -> None:
    layout, result = folded(shower(drain(1200, 1000)))
    assert replace(result.layout, cuts=layout.cuts, cut_length_m=layout.cut_length_m) == layout
    assert result.layout.cuts.diagonal > layout.cuts.diagonal
    assert rules(result) == {"folds": "condition"}


def test_small_tile_follows_the_planes() -> None:
    layout, result = folded(shower(drain(1200, 1000), tile=Tile(EDGE, EDGE)))
    assert result.layout.cuts == layout.cuts
    assert len(result.answer) == 4
    assert rules(result) == {"folds": "pass"}
    assert rules(folded(shower(drain(1200, 1000), tile=Tile(EDGE + 1, EDGE)))[1]) == {"folds": "condition"}


def test_level_floors_and_bare_areas_have_no_folds() -> None:
    layout, result = folded(replace(shower(drain(1200, 1000)), falls="none"))
    assert (result.answer, result.layout, result.step.findings) == ((), layout, ())


def test_a_fold_along_a_joint_cuts_nothing() -> None:
    # By hand: with joints centred on the drain's line, as wide as they are, no tile lies on the low line.
    line = replace(shower(drain(1500, 1201.5), size=(3000, 2403)), falls="linear", origin=(6.0, 1203.0))
    layout, result = folded(line)
    [*parts] = result.answer
    assert sum(dist(*part) for part in parts) == pytest.approx(3000 - 12 - 110, abs=0.5)
    assert result.layout.cuts == layout.cuts
    askew = replace(line, origin=(6.0, 1100.0))
    layout, result = folded(askew)
    # By hand: 2988 mm of course from 6: ten tiles, the drain's edge cuts one of them in two.
    more = result.layout.cuts.straight - layout.cuts.straight
    assert 10 <= more <= 11
    assert result.layout.cuts == replace(layout.cuts, straight=layout.cuts.straight + more)


def test_a_drain_at_the_wall_leaves_one_plane() -> None:
    assert folded(replace(shower(drain(1500, 0, None)), falls="linear"))[1].answer == ()


def test_two_drains_part_the_floor_by_a_ridge() -> None:
    # By hand: 8 x 2 m, drains 1.5 m from the short walls: the ridge at x = 4000 is 2 m less 2 x 6 mm,
    # four folds run to each drain. Half a floor is 4 x 2 m, its longest way from (4000, 0) to (1500, 1000).
    room = shower(drain(1500, 1000), drain(6500, 1000), size=(8000, 2000))
    _, result = folded(room)
    assert len(result.answer) == 9
    [ridge] = [line for line in result.answer if line[0][0] == line[1][0] == 4000]
    assert dist(*ridge) == pytest.approx(1988)
    depth = falls.mean_depth_mm(room, floor_shape(room), VALUES)
    least = VALUES.number("falls.least_depth")
    assert depth == pytest.approx(least + fall_mm(2 / 3 * hypot(2500, 1000), VALUES))


def test_what_the_drain_does_not_see_is_told() -> None:
    ell = ((0.0, 0.0), (4000.0, 0.0), (4000.0, 1000.0), (1000.0, 1000.0), (1000.0, 4000.0), (0.0, 4000.0))
    room = room_of(ell, obstructions=(drain(3000, 500),), falls="point", origin="corner")
    assert rules(folded(room)[1])["folds_hidden"] == "condition"
    seen = replace(room, obstructions=(drain(500, 500),))
    assert "folds_hidden" not in rules(folded(seen)[1])
    assert len(folded(seen)[1].answer) == 6


def test_nothing_is_cut_where_nothing_folds() -> None:
    plan = folded(shower())[0].plan
    assert plan is not None
    assert sawn_along((), plan, 10.0).cuts == Cuts()


@pytest.mark.parametrize("rotation", [0.0, 45.0])
def test_every_cut_along_a_fold_is_a_row_of_the_cut_list(rotation: float) -> None:
    room = replace(shower(drain(1200, 1000)), pattern=Pattern(rotation=rotation))
    found = take_off(Job((room,)), VALUES, LABOUR).rooms[0]
    listed = cut_list_of(room, found)
    counted = [asdict(tile.cuts) for tile in listed]
    assert {name: sum(each[name] for each in counted) for name in counted[0]} == asdict(found.layout.cuts)
    along = [tile for tile in listed if tile.along]
    assert len(along) > 10
    assert len({tile.id for tile in listed}) == len(listed)
    pieces = {tile.id for tile in listed if not tile.along}
    assert {tile.piece for tile in along} - {""} <= pieces
    lines = [LineString(fold) for fold in found.folds]
    for tile in along:
        # Back in the room, the saw's line lies on a fold, and inside the tile that it cuts.
        saw = translate(rotate(LineString(tile.along), tile.rotation_deg, origin=(0, 0)), *tile.position)
        assert any(fold.buffer(0.05).covers(saw) for fold in lines)
        assert Polygon(tile.outline).buffer(0.01).covers(LineString(tile.along))


def test_small_tile_has_no_cuts_along_folds() -> None:
    room = shower(drain(1200, 1000), tile=Tile(EDGE, EDGE))
    found = take_off(Job((room,)), VALUES, LABOUR).rooms[0]
    assert found.folds
    assert not any(tile.along for tile in cut_list_of(room, found))
