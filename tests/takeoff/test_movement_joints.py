"""Movement joints against the published rules' own examples, and shapely's measure of each line."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import dist, fsum, inf
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, STRtree, box, union_all
from shapely import Point as ShapelyPoint
from shapely.affinity import rotate, translate
from shapely.ops import polygonize

from service.takeoff import movement_joints
from service.takeoff.answer import Finding, Lattice, Layout, Plan
from service.takeoff.geometry import floor_shape
from service.takeoff.joint_lines import Grid, Limit, divided, grout_grids
from service.takeoff.joint_parts import field_joints
from service.takeoff.joint_rules import exterior_width_mm, limit_of, limits_of
from service.takeoff.layout import lay_out
from service.takeoff.movement_joints import MovementJointsTake
from service.takeoff.room import Doorway, Outline, Pattern, Point, Room, Substrate, Tile, Zone
from service.takeoff.sections import main_direction
from service.trade.values import TradeValues, load_trade_values
from tests.takeoff.floors import UNLAID
from tests.takeoff.outlines import outline_of, rectangle, rectilinear, room_of, star
from tests.takeoff.rooms import ON, VALUES

DE, UK = load_trade_values("de", ON), load_trade_values("uk", ON)
FT, INCH = 304.8, 25.4
HALL = rectangle(30 * FT, 24 * FT)
SUN = Zone(HALL, "dry", sunlit=True)


def hall(**said: Any) -> Room:
    """30 x 24 ft, the field as large as the room."""
    return room_of(HALL, perimeter_joint=0.0, **said)


def taken(room: Room, values: TradeValues = VALUES, layout: Layout = UNLAID) -> MovementJointsTake:
    return movement_joints.take(room, floor_shape(room), layout, values)


def rules(result: MovementJointsTake) -> dict[str, Finding]:
    return {finding.rule: finding for finding in result.step.findings}


def on_lattice(room: Room, x: float, y: float, shift: float = 0.0, rotation: float = 0.0) -> Layout:
    """A layout whose tiles begin at x, y."""
    pitch = (room.tile.length + room.joint, room.tile.width + room.joint)
    lattice = Lattice((x, y), room.tile.length, room.tile.width, *pitch, shift, rotation)
    return replace(UNLAID, plan=Plan(lattice, (), (), ()), laid_out=True)


def test_interior_joints_of_a_hall() -> None:
    # TCNA EJ171, interior at most 25 ft: 30 x 24 ft takes ceil(30/25) - 1 = 1 joint of 24 ft.
    answer = taken(hall()).answer
    assert answer.field_length_m == pytest.approx(24 * FT / 1000)
    assert len(answer.lines) == 1
    assert (answer.max_spacing_m, answer.width_mm) == (pytest.approx(7.62), pytest.approx(INCH / 4))


def test_sunlit_joints_of_a_hall() -> None:
    # TCNA EJ171, direct sun at most 12 ft: 2 joints of 24 ft and 1 of 30 ft are 78 ft.
    answer = taken(hall(zones=(SUN,))).answer
    assert answer.field_length_m == pytest.approx(78 * FT / 1000)
    assert len(answer.lines) == 3


@pytest.mark.parametrize(
    "said",
    [
        {"exposure": "wet"},
        {"substrate": Substrate("concrete_suspended")},
        {"substrate": Substrate("concrete_young", beneath="concrete_suspended")},
        {"substrate": Substrate("concrete_young", deflection=480)},
        {"exposure": "exterior"},
        {"zones": (replace(SUN, exposure="wet", sunlit=False),)},
    ],
)
def test_moisture_suspended_slabs_and_exteriors_take_twelve_feet(said: dict[str, Any]) -> None:
    assert taken(hall(**said)).answer.max_spacing_m == pytest.approx(12 * FT / 1000)


def test_exterior_width_grows_with_spacing_and_temperature() -> None:
    # TCNA EJ171: 3/8 in at 8 ft, 1/2 in at 12 ft, 1/16 in more for each 15 °F over 100 °F: 9/16 in at 115 °F.
    at_115 = VALUES.overridden_by({"movement_joints.temperature_range": 115.0})
    assert exterior_width_mm(12 * FT, at_115) == pytest.approx(9 / 16 * INCH)
    assert exterior_width_mm(12 * FT, VALUES) == pytest.approx(1 / 2 * INCH)
    assert exterior_width_mm(8 * FT, VALUES) == pytest.approx(3 / 8 * INCH)
    at_116 = VALUES.overridden_by({"movement_joints.temperature_range": 116.0})
    assert exterior_width_mm(12 * FT, at_116) == pytest.approx(10 / 16 * INCH)
    cool = VALUES.overridden_by({"movement_joints.temperature_range": 60.0})
    assert exterior_width_mm(12 * FT, cool) == pytest.approx(1 / 2 * INCH)
    # 30 x 24 ft outdoors: bays of 10 ft and 12 ft, so 1/2 in.
    assert taken(hall(exposure="exterior")).answer.width_mm == pytest.approx(INCH / 2)


def test_german_parts_are_small_in_area_too() -> None:
    # Parts of at most 40 m2 with edges to 7 m (common practice): 7 x 7 m has none to divide by edge, but
    # 49 m2: one joint. Outdoors at most 5 m and 25 m2.
    square = room_of(rectangle(7000, 7000), perimeter_joint=0.0)
    assert len(taken(square, DE).answer.lines) == 1
    assert limit_of(square, VALUES).area_m2 == inf
    outdoors = replace(square, exposure="exterior")
    assert taken(outdoors, DE).answer.max_spacing_m == 5.0
    assert len(taken(outdoors, DE).answer.lines) == 2


def test_british_limits() -> None:
    # BS 5385-3: 10 m indoors; heated or sunlit 8 m and 40 m2 (from memory); outdoors 3 to 5 m.
    square = room_of(rectangle(10000, 4000), perimeter_joint=0.0)
    assert taken(square, UK).answer.lines == ()
    assert len(taken(replace(square, heating="water"), UK).answer.lines) == 1
    assert taken(replace(square, exposure="exterior"), UK).answer.max_spacing_m == 5.0


@given(
    st.tuples(st.floats(1000, 40000), st.floats(1000, 40000)),
    st.floats(2000, 10000),
    st.sampled_from((inf, 25.0, 40.0)),
    st.floats(50, 1300),
    st.floats(-500, 500),
)
def test_no_bay_is_too_wide_or_too_large(
    size: tuple[float, float], most: float, area: float, pitch: float, start: float
) -> None:
    spans = ((0.0, size[0]), (0.0, size[1]))
    for grids in ((None, None), (Grid(start, pitch), Grid(start, pitch))):
        cuts = divided(spans, Limit(most, "", 6.0, area), grids)
        bays = [
            [b - a for a, b in pairwise([span[0], *at, span[1]])]
            for span, at in zip(spans, cuts, strict=True)
        ]
        assert all(0 < bay <= most * (1 + 1e-9) for row in bays for bay in row)
        assert max(bays[0]) * max(bays[1]) / 1e6 <= area * (1 + 1e-6)


@given(st.floats(1000, 60000), st.floats(2000, 10000))
def test_no_joint_more_than_the_rule_counts(span: float, most: float) -> None:
    # Brute force: the fewest joints that keep to the limit.
    fewest = next(n for n in range(100) if span / (n + 1) <= most * (1 + 1e-9))
    across, along = divided(((0.0, span), (0.0, 100.0)), Limit(most, "", 6.0))
    assert (len(across), len(along)) == (fewest, 0)


def test_joints_fall_on_grout_joints() -> None:
    # By hand: the middle is at 4500; grout joints are centred at 6 - 1.5 + k * 303: 4549.5 is nearest.
    room = room_of(rectangle(9000, 5000))
    result = taken(room, layout=on_lattice(room, 6.0, 6.0))
    [(start, end)] = result.answer.lines
    assert start[0] == end[0] == pytest.approx(4549.5)
    assert "movement_joint_cuts" not in rules(result)


def test_running_bond_has_straight_joints_along_its_rows_only() -> None:
    room = room_of(rectangle(9000, 9000), pattern=Pattern("running_bond"))
    result = taken(room, layout=on_lattice(room, 6.0, 6.0, shift=151.5))
    upright = [line for line in result.answer.lines if line[0][0] == pytest.approx(line[1][0])]
    level = [line for line in result.answer.lines if line[0][1] == pytest.approx(line[1][1])]
    assert upright[0][0][0] == pytest.approx(4500.0)
    assert level[0][0][1] == pytest.approx(4549.5)
    assert rules(result)["movement_joint_cuts"].verdict == "condition"


def test_tile_sawn_along_a_joint_is_work() -> None:
    # By hand: half bond across 9000 x 3000, tile 600 x 300: of the ten courses that the one joint crosses at
    # x = 4500 every one is sawn unless a grout joint lies there: 6 + k * 603 and 307.5 + k * 603 do not.
    room = room_of(rectangle(9000, 3000), tile=Tile(600, 300), origin="corner")
    room = replace(room, pattern=Pattern("running_bond", Fraction(1, 2)))
    layout = lay_out(room, floor_shape(room), VALUES)
    result = taken(room, layout=layout)
    assert [(work.activity, work.quantity) for work in result.step.work] == [("cut_straight", 10)]
    assert "2.99 m" in rules(result)["movement_joint_cuts"].message
    straight = replace(room, pattern=Pattern())
    assert taken(straight, layout=lay_out(straight, floor_shape(straight), VALUES)).step.work == ()


def test_basket_weave_has_joints_between_its_blocks() -> None:
    room = room_of(rectangle(9000, 3000), tile=Tile(203, 100), origin="corner")
    room = replace(room, pattern=Pattern("basket_weave"))
    result = taken(room, layout=lay_out(room, floor_shape(room), VALUES))
    [((x, _), (other, _))] = result.answer.lines
    assert x == other
    assert (x - 6 + 1.5) / 206 == pytest.approx(round((x - 6 + 1.5) / 206))
    assert "movement_joint_cuts" not in rules(result)


@pytest.mark.parametrize("rotation", [0.0, 90.0, 180.0, 270.0])
def test_grout_joints_cut_no_tile_however_the_lattice_is_turned(rotation: float) -> None:
    # Brute force: the tiles around the lattice's origin, turned by shapely.
    room = room_of(rectangle(9000, 9000), tile=Tile(600, 300))
    places = [(column * 603.0, row * 303.0) for column in range(-3, 4) for row in range(-3, 4)]
    tiles = [rotate(box(6 + x, 6 + y, 606 + x, 306 + y), rotation, origin=(6, 6)).bounds for x, y in places]
    x, y = grout_grids(room, on_lattice(room, 6.0, 6.0, rotation=rotation), 0.0)
    assert x is not None
    assert y is not None
    for step in range(-2, 3):
        across, along = x.start + step * x.pitch, y.start + step * y.pitch
        assert not any(low < across < high for low, _, high, _ in tiles)
        assert not any(low < along < high for _, low, _, high in tiles)


@pytest.mark.parametrize("turned", [0.0, 90.0])
@pytest.mark.parametrize("size", [(9000, 5000), (15300, 8111), (16000, 16000)])
def test_joints_cut_no_whole_tile_of_a_layout(size: tuple[float, float], turned: float) -> None:
    # Brute force: every whole tile of the laid-out floor against every joint, by shapely.
    room = room_of(rectangle(*size), tile=Tile(600, 300), pattern=Pattern(rotation=turned), origin="corner")
    layout = lay_out(room, floor_shape(room), VALUES)
    result = taken(room, layout=layout)
    whole = [tile.buffer(-1.0) for tile in whole_tiles(layout)]
    assert len(whole) == layout.whole_tiles
    assert result.answer.lines
    assert not any(LineString(line).intersects(tile) for line in result.answer.lines for tile in whole)
    assert "movement_joint_cuts" not in rules(result)


def whole_tiles(layout: Layout) -> list[Polygon]:
    """The whole tiles in the room's coordinates, from the lattice and its runs."""
    assert layout.plan is not None
    lattice = layout.plan.lattice
    tile = box(0, 0, lattice.tile_length_mm, lattice.tile_width_mm)
    spots = [
        (column * lattice.pitch_x_mm + run.row * lattice.row_shift_mm, run.row * lattice.pitch_y_mm)
        for run in layout.plan.whole
        for column in range(run.first, run.last + 1)
    ]
    turned = [rotate(translate(tile, *spot), lattice.rotation_deg, origin=(0, 0)) for spot in spots]
    return [translate(one, *lattice.origin) for one in turned]


def test_a_diagonal_lattice_has_no_joint_to_follow() -> None:
    room = room_of(rectangle(9000, 9000))
    assert grout_grids(room, on_lattice(room, 6.0, 6.0, rotation=45.0), 0.0) == (None, None)


@settings(max_examples=60, deadline=None)
@given(rectilinear(20000) | star(20000))
def test_a_joint_is_as_long_as_it_lies_on_the_field(outline: Outline) -> None:
    room = room_of(outline.ring, outline.holes)
    shape = floor_shape(room)
    answer = taken(room).answer
    assert answer.field_length_m == pytest.approx(fsum(dist(*line) for line in answer.lines) / 1000)
    drawn = [LineString(line) for line in answer.lines]
    for line in drawn:
        assert line.intersection(shape.field.buffer(0.01)).length == pytest.approx(line.length, abs=0.1)
        others = union_all([shape.field.boundary, *(other for other in drawn if other is not line)])
        assert all(others.distance(ShapelyPoint(end)) < 0.1 for end in line.coords)


def parts_of(room: Room, lines: tuple[tuple[Point, Point], ...]) -> list[Polygon]:
    """What shapely's noder makes of the field and the joints, each drawn 0.1 mm further."""
    field = floor_shape(room).field
    drawn = []
    for (x0, y0), (x1, y1) in lines:
        dx, dy = ((x1 - x0) / dist((x0, y0), (x1, y1)) / 10, (y1 - y0) / dist((x0, y0), (x1, y1)) / 10)
        drawn.append(LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)]))
    faces = polygonize(union_all([field.boundary, *drawn]))
    return [face for face in faces if face.area > 1 and field.covers(face.representative_point())]


@settings(max_examples=60, deadline=None)
@given(
    rectilinear(20000) | star(20000),
    st.sampled_from((VALUES, UK, DE)),
    st.sampled_from(("none", "water")),
    st.booleans(),
)
def test_no_part_of_any_room_exceeds_the_limits_where_it_lies(
    outline: Outline, values: TradeValues, heating: Any, zoned: bool
) -> None:
    # The limits are looked up here anew: the room's, and the zone's for parts that share ground with it.
    x, y = Polygon(outline.ring, outline.holes).representative_point().coords[0]
    reach = Polygon(outline.ring).exterior.distance(ShapelyPoint(x, y)) / 1.5
    corner = ((x - reach, y - reach), (x + reach, y - reach), (x + reach, y + reach), (x - reach, y + reach))
    zones = (Zone(corner, "dry", sunlit=True),) if zoned and reach > 1 else ()
    room = room_of(outline.ring, outline.holes, heating=heating, zones=zones)
    shape, answer = floor_shape(room), taken(room, values).answer
    keys = ["interior"] + (["heated"] if heating != "none" else [])
    for part in parts_of(room, answer.lines):
        sunny = any(Polygon(zone.outline).intersection(part).area > 2e3 for zone in zones)
        level = rotate(part, -main_direction(shape), origin=(0, 0)).bounds
        for key in [*keys, *(["sunlit"] if sunny else [])]:
            limits = values.by_key
            if f"movement_joints.spacing.{key}" in limits:
                most = values.number(f"movement_joints.spacing.{key}")
                assert max(level[2] - level[0], level[3] - level[1]) <= most + 0.5
            if f"movement_joints.area.{key}" in limits:
                assert part.area / 1e6 <= values.number(f"movement_joints.area.{key}") + 0.01


def test_an_ell_is_parted_at_its_inner_corner() -> None:
    # 9 x 4 m and an arm of 3 x 8 m: over 25 ft (7.62 m) both ways. By hand: the shortest joint from the inner
    # corner (3, 4) is the arm's mouth of 3 m; what is left, 9 x 4 m, takes one more of 4 m.
    ell = ((0.0, 0.0), (9000.0, 0.0), (9000.0, 4000.0), (3000.0, 4000.0), (3000.0, 11600.0), (0.0, 11600.0))
    answer = taken(room_of(ell, perimeter_joint=0.0)).answer
    mouth, across = sorted(answer.lines, key=lambda line: dist(*line))
    assert [*mouth[0], *mouth[1]] == pytest.approx([0, 4000, 3000, 4000], abs=0.01)
    assert [*across[0], *across[1]] == pytest.approx([4500, 0, 4500, 4000], abs=0.01)


def test_a_u_is_parted_at_both_inner_corners() -> None:
    # 12 x 3 m with arms of 3 x 6 m at both ends: the mouths first (3 m each), then 12 m by one joint of 3 m.
    u = ((0, 0), (12000, 0), (12000, 9000), (9000, 9000), (9000, 3000), (3000, 3000), (3000, 9000), (0, 9000))
    answer = taken(room_of(tuple((float(x), float(y)) for x, y in u), perimeter_joint=0.0)).answer
    assert answer.field_length_m == pytest.approx(9.0, abs=1e-4)
    assert sum(line[0][1] == line[1][1] == 3000 for line in answer.lines) == 2


def test_a_small_ell_needs_no_joint_in_its_field() -> None:
    ell = ((0.0, 0.0), (4000.0, 0.0), (4000.0, 2000.0), (2000.0, 2000.0), (2000.0, 5000.0), (0.0, 5000.0))
    assert taken(room_of(ell)).answer.lines == ()


def test_a_zone_has_its_own_spacing_in_its_part_only() -> None:
    # A sunlit strip 2 m deep along a hall of 24 x 20 ft: a joint of 20 ft beside the strip, one of 2 m
    # across it as 20 ft exceed 12 ft, none in the rest: 5.32 x 6.10 m.
    hall_ = room_of(rectangle(24 * FT, 20 * FT), perimeter_joint=0.0)
    strip = Zone(rectangle(2000, 20 * FT), "dry", sunlit=True)
    answer = taken(replace(hall_, zones=(strip,))).answer
    assert answer.field_length_m == pytest.approx(20 * FT / 1000 + 2.0, abs=1e-4)
    assert taken(hall_).answer.lines == ()
    everywhere = taken(replace(hall_, zones=(Zone(rectangle(24 * FT, 20 * FT), "dry", sunlit=True),))).answer
    assert everywhere.field_length_m > answer.field_length_m


@settings(max_examples=20, deadline=None)
@given(rectilinear(16000), st.sampled_from((0.0, 90.0)))
def test_joints_of_any_room_in_stack_bond_saw_no_tile(outline: Outline, turned_by: float) -> None:
    # Brute force by shapely over every whole tile, wherever the answer says that joints follow the tile.
    room = room_of(outline.ring, outline.holes, tile=Tile(600, 400), pattern=Pattern(rotation=turned_by))
    room = replace(room, origin="corner")
    layout = lay_out(room, floor_shape(room), VALUES)
    result = taken(room, layout=layout)
    if "movement_joint_cuts" in rules(result) or not result.answer.lines:
        return
    tiles = STRtree([tile.buffer(-1.0) for tile in whole_tiles(layout)])
    assert all(not len(tiles.query(LineString(line), "intersects")) for line in result.answer.lines)


@settings(max_examples=30, deadline=None)
@given(rectilinear(20000), st.integers(-9000, 9000), st.integers(-9000, 9000))
def test_moving_the_room_changes_nothing(outline: Outline, x: int, y: int) -> None:
    moved = outline_of(translate(Polygon(outline.ring, outline.holes), x, y))
    here, there = (
        field_joints(room, floor_shape(room), UNLAID, limits_of(room, VALUES), 0.25)
        for room in (room_of(o.ring, o.holes) for o in (outline, moved))
    )
    assert len(here.lines) == len(there.lines)
    assert fsum(dist(*line) for line in there.lines) == pytest.approx(
        fsum(dist(*line) for line in here.lines)
    )


@pytest.mark.parametrize(
    ("values", "said", "adjoining", "joint"),
    [
        (VALUES, {}, "carpet", 0.0),
        (VALUES, {}, "tile", 0.9),  # tile meets tile: EJ171 wants a joint where floors abut
        (VALUES, {"heating": "water"}, "carpet", 0.9),
        (DE, {}, "wood", 0.9),
        (UK, {}, "wood", 0.0),
    ],
)
def test_joints_in_doorways(values: TradeValues, said: dict[str, Any], adjoining: str, joint: float) -> None:
    door = Doorway(wall=0, offset=500, width=900, adjoining=adjoining)
    room = room_of(rectangle(4000, 3000), doorways=(door,), **said)
    answer = taken(room, values).answer
    assert answer.doorway_length_m == pytest.approx(joint)
    assert answer.perimeter_length_m == pytest.approx(13.1)
    assert answer.lines == ((((500.0, 0.0), (1400.0, 0.0)),) if joint else ())


def test_profiles_in_place_of_sealant() -> None:
    room = hall(zones=(SUN,), movement_joint="profile")
    result = taken(room)
    profile, *fitted = result.step.materials
    [work] = result.step.work
    metres = pytest.approx(78 * FT / 1000)
    assert (profile.role, profile.required) == ("movement_joint_profile", metres)
    assert profile.with_allowance >= profile.required
    assert (work.activity, work.driver, work.quantity) == ("movement_joint", "metres", metres)
    assert [run.kind for run in result.profiles] == ["movement_joint"] * 3
    # 24 ft are 3 sticks of 8 ft, 30 ft are 4: 2 + 2 + 3 joints; each of the three runs has two ends.
    assert [(m.role, m.required) for m in fitted] == [("profile_fitting", 7), ("profile_fitting", 6)]
    sealed = taken(replace(room, movement_joint="sealant"))
    assert (sealed.step.materials, sealed.step.work, sealed.profiles) == ((), (), ())


def test_what_is_said_of_every_floor() -> None:
    told = rules(taken(replace(hall(), perimeter_joint=6.0)))
    assert "EJ171" in told["movement_joint_spacing"].source
    assert "never grout" in told["movement_joint_filling"].message
    assert "A108.02-4.4.1" in told["change_of_plane"].source
    assert "substrate_joints" not in told
    assert "substrate_joints" in rules(taken(hall(substrate=Substrate("screed_cement"))))


def test_findings_at_walls_do_not_contradict_each_other() -> None:
    """No soft joint is told where none is left, and none is asked for where no wall stands."""
    tight = rules(taken(hall()))
    assert tight["perimeter_joint"].verdict == "condition"
    assert "change_of_plane" not in tight
    free = rules(taken(room_of(HALL, walls=(), perimeter_joint=0.0)))
    assert "perimeter_joint" not in free
    assert "no wall" in free["change_of_plane"].message


@pytest.mark.parametrize(
    ("values", "said", "joint", "told"),
    [(VALUES, {}, 6, False), (VALUES, {}, 5, True), (DE, {}, 6, False), (DE, {"heating": "water"}, 6, True)],
)
def test_a_narrow_perimeter_joint_is_told(
    values: TradeValues, said: dict[str, Any], joint: float, told: bool
) -> None:
    room = room_of(rectangle(4000, 3000), perimeter_joint=joint, **said)
    assert ("perimeter_joint" in rules(taken(room, values))) is told
