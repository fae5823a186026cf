"""Movement joints against the published rules' own examples, and shapely's measure of each line."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import dist, fsum, inf
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, box
from shapely.affinity import rotate, translate

from service.takeoff import movement_joints
from service.takeoff.answer import Finding, Lattice, Layout, Plan
from service.takeoff.geometry import floor_shape
from service.takeoff.joint_lines import Grid, Limit, divided, field_joints, grout_grids
from service.takeoff.joint_rules import exterior_width_mm, limit_of
from service.takeoff.layout import lay_out
from service.takeoff.movement_joints import MovementJointsTake
from service.takeoff.room import Doorway, Outline, Pattern, Room, Substrate, Tile, Zone
from service.trade.values import TradeValues, load_trade_values
from tests.takeoff.outlines import outline_of, rectangle, rectilinear, room_of, star
from tests.takeoff.rooms import ON, VALUES
from tests.takeoff.test_membrane import UNLAID

DE, UK = load_trade_values("de", ON), load_trade_values("uk", ON)
FT, INCH = 304.8, 25.4
HALL = rectangle(30 * FT, 24 * FT)
SUN = Zone(((0, 0), (1000, 0), (1000, 1000), (0, 1000)), "dry", sunlit=True)


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
    for line in answer.lines:
        drawn = LineString(line)
        assert drawn.intersection(shape.field.buffer(0.01)).length == pytest.approx(drawn.length, abs=0.1)
        assert min(shape.field.boundary.distance(LineString([end, end])) for end in line) < 0.1


@settings(max_examples=30, deadline=None)
@given(rectilinear(20000), st.integers(-9000, 9000), st.integers(-9000, 9000))
def test_moving_the_room_changes_nothing(outline: Outline, x: int, y: int) -> None:
    moved = outline_of(translate(Polygon(outline.ring, outline.holes), x, y))
    here, there = (
        field_joints(room, floor_shape(room), UNLAID, limit_of(room, VALUES))
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
    [profile] = result.step.materials
    [work] = result.step.work
    metres = pytest.approx(78 * FT / 1000)
    assert (profile.role, profile.required) == ("movement_joint_profile", metres)
    assert profile.with_allowance >= profile.required
    assert (work.activity, work.driver, work.quantity) == ("movement_joint", "metres", metres)
    assert [run.kind for run in result.profiles] == ["movement_joint"] * 3
    sealed = taken(replace(room, movement_joint="sealant"))
    assert (sealed.step.materials, sealed.step.work, sealed.profiles) == ((), (), ())


def test_what_is_said_of_every_floor() -> None:
    told = rules(taken(hall()))
    assert "EJ171" in told["movement_joint_spacing"].source
    assert "never grout" in told["movement_joint_filling"].message
    assert "A108.02-4.4.1" in told["change_of_plane"].source
    assert "substrate_joints" not in told
    assert "substrate_joints" in rules(taken(hall(substrate=Substrate("screed_cement"))))


@pytest.mark.parametrize(
    ("values", "said", "joint", "told"),
    [(VALUES, {}, 6, False), (VALUES, {}, 5, True), (DE, {}, 6, False), (DE, {"heating": "water"}, 6, True)],
)
def test_a_narrow_perimeter_joint_is_told(
    values: TradeValues, said: dict[str, Any], joint: float, told: bool
) -> None:
    room = room_of(rectangle(4000, 3000), perimeter_joint=joint, **said)
    assert ("perimeter_joint" in rules(taken(room, values))) is told
