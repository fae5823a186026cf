"""Membrane strips: hand-worked rooms, and shapely's own word on what strips cover and where they meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from math import fsum, hypot

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, union_all
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from service.cutting.rolls import cut_strips
from service.cutting.stock import Stock
from service.takeoff import membrane
from service.takeoff.answer import Material, MembraneLayout, MembraneStrip
from service.takeoff.build_up import finished_level_mm
from service.takeoff.geometry import floor_shape
from service.takeoff.room import Membrane, Obstruction, Outline, Room
from service.takeoff.sections import main_direction, turned
from service.takeoff.strip_grid import needed_floor
from service.takeoff.strips import Roll, bands_of, cut_from_rolls
from service.takeoff.strips import laid as strips_laid
from tests.takeoff.outlines import outline_of, rectangle, rectilinear, room_of, star
from tests.takeoff.rooms import BARE, VALUES

ROLL = Roll(1000.0, 30000.0)


def laid(room: Room) -> MembraneLayout:
    return membrane.lay(floor_shape(room), room.membrane or Membrane(), VALUES)


def lay_along(floor: BaseGeometry, angle: float, roll: Roll) -> MembraneLayout:
    """Strips over all of a floor in one direction [degrees], the first one along its lowest edge."""
    level = turned(floor, -angle)
    return cut_from_rolls(
        strips_laid(bands_of(level, level, [level.bounds[1]], roll.width)[0], angle, roll), roll
    )


def taken(room: Room) -> membrane.MembraneTake:
    return membrane.take(room, floor_shape(room), laid(room) if room.membrane else None, VALUES)


def material(room: Room, role: str) -> Material:
    return next(m for m in taken(room).step.materials if m.role == role)


def mat_of(strip: MembraneStrip) -> Polygon:
    return LineString([strip.start, strip.end]).buffer(strip.width_mm / 2, cap_style="flat")


def test_strips_go_the_cheaper_way() -> None:
    # Worked by hand: 3.2 x 4.0 m from a 1 m roll: 4 strips of 3.2 m are 12.8 m, the other way 4 x 4.0 = 16.0.
    mat = laid(room_of(rectangle(3200, 4000)))
    assert [strip.length_m for strip in mat.strips] == pytest.approx([3.2] * 4)
    assert mat.area_m2 == pytest.approx(12.8)
    assert mat.rolls == 1
    across = lay_along(floor_shape(room_of(rectangle(3200, 4000))).floor, 90.0, ROLL)
    assert across.area_m2 == pytest.approx(16.0)


def test_a_product_that_states_its_width_is_laid_in_it() -> None:
    # Worked by hand: 4.0 x 3.0 m in 2 strips of a 1.5 m roll is 12.0 m2 in 8 m, one seam of 4.0 m.
    room = replace(room_of(rectangle(4000, 3000)), membrane=Membrane(roll_width=1500.0))
    mat = laid(room)
    assert [(strip.length_m, strip.width_mm) for strip in mat.strips] == [(4.0, 1500.0)] * 2
    assert (mat.area_m2, mat.seam_length_m) == (pytest.approx(12.0), pytest.approx(4.0))
    bought = material(room, "membrane")
    assert bought.lengths is not None
    assert bought.lengths.width_mm == 1500.0
    width = bought.fitness[1]
    assert (width.attribute, width.at_least, width.at_most, width.if_stated) == (
        "width_mm",
        1500.0,
        1500.0,
        True,
    )


def test_seams_of_butted_strips() -> None:
    # Worked by hand: 4.0 x 3.0 m in 3 butted strips has 2 seams of 4.0 m.
    mat = laid(room_of(rectangle(4000, 3000)))
    assert len(mat.strips) == 3
    assert mat.seam_length_m == pytest.approx(8.0)
    assert fsum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in mat.seams) == pytest.approx(8000.0)


def test_a_remainder_is_a_ripped_strip_bought_at_full_width() -> None:
    # 3.4 x 2.4 m: 4 strips of 2.4 are 9.6 m, the last 0.4 m wide; along 3.4 it would be 3 of 3.4 = 10.2.
    mat = laid(room_of(rectangle(3400, 2400)))
    assert sorted(strip.width_mm for strip in mat.strips) == pytest.approx([400, 1000, 1000, 1000])
    assert mat.area_m2 == pytest.approx(9.6)


def test_rolls_are_told_with_their_bound() -> None:
    # 240 m of strip, 30 m a roll: six strips of 30 and six of 10.
    mat = laid(room_of(rectangle(40000, 6000)))
    assert (mat.rolls, mat.rolls_bound, mat.rolls_gap) == (8, 8, 0)
    assert mat.rolls_method == "packed"


def test_an_l_room_has_strips_as_long_as_their_part() -> None:
    # L of 4.0 x 3.0 m less 2.0 x 2.0 at the upper right: along x 4.0 + 2.0 + 2.0, seams 2.0 + 2.0.
    ell = ((0.0, 0.0), (4000.0, 0.0), (4000.0, 1000.0), (2000.0, 1000.0), (2000.0, 3000.0), (0.0, 3000.0))
    mat = laid(room_of(ell))
    assert sorted(strip.length_m for strip in mat.strips) == pytest.approx([2.0, 2.0, 4.0])
    assert mat.seam_length_m == pytest.approx(4.0)


def test_a_column_over_the_whole_strip_parts_it() -> None:
    # 5.0 x 3.0 m, a column 0.5 m wide over the middle strip's whole width: 5.0 + 2 x 2.25 + 5.0 m, and the
    # two seams lose the 0.5 m where the column stands.
    column = Obstruction("column", outline=((2250, 1000), (2750, 1000), (2750, 2000), (2250, 2000)))
    mat = laid(room_of(rectangle(5000, 3000), obstructions=(column,)))
    assert sorted(strip.length_m for strip in mat.strips) == pytest.approx([2.25, 2.25, 5.0, 5.0])
    assert mat.seam_length_m == pytest.approx(9.0)


def test_a_column_in_the_middle_of_a_strip_does_not_part_it() -> None:
    column = Obstruction("column", outline=((2250, 1200), (2750, 1200), (2750, 1800), (2250, 1800)))
    mat = laid(room_of(rectangle(5000, 3000), obstructions=(column,)))
    assert [strip.length_m for strip in mat.strips] == pytest.approx([5.0] * 3)
    assert mat.seam_length_m == pytest.approx(10.0)


def test_no_sliver_is_laid_along_a_wall() -> None:
    # 3015 mm across, the mat may stop 8 mm short of each wall: three strips of 5.0 m, no fourth of 15 mm.
    mat = laid(room_of(rectangle(5000, 3015)))
    assert sorted(strip.width_mm for strip in mat.strips) == pytest.approx([999.0, 1000.0, 1000.0], abs=8.0)
    assert (mat.area_m2, mat.seam_length_m) == (pytest.approx(15.0), pytest.approx(10.0))
    # 3050 mm wants a fourth: the first starts with half a width, so that the last is 550 and not 50.
    mat = laid(room_of(rectangle(1100, 3050)))
    assert sorted(strip.width_mm for strip in mat.strips) == pytest.approx([500, 550, 1000, 1000])
    assert mat.area_m2 == pytest.approx(4.4)


def test_the_start_follows_the_shape_where_that_takes_less_mat() -> None:
    # 5.4 x 3.0 m with a bay 1.0 m wide and 0.6 deep at its low edge. From the bay's bottom strips meet the
    # room at 0.4 m: 4 x 5.4 = 21.6 m. From the room's own edge 3 x 5.4 + 1.0 = 17.2; along y 5 x 3.0 + 3.6.
    bay = ((0, 600), (2000, 600), (2000, 0), (3000, 0), (3000, 600), (5400, 600), (5400, 3600), (0, 3600))
    assert lay_along(floor_shape(room_of(bay)).floor, 0.0, ROLL).area_m2 == pytest.approx(21.6)
    assert laid(room_of(bay)).area_m2 == pytest.approx(17.2)


@pytest.mark.parametrize(
    ("ring", "small"),
    [
        (((0, 0), (3437, 0), (1976, 4877), (1079, 3011)), 3),
        (((0, 0), (4740, 0), (4460, 3484), (291, 3353)), 4),
        (((0, 0), (3200, 0), (4200, 4100), (600, 3700)), None),
    ],
)
def test_no_start_every_20_mm_needs_cheaper_rolls(
    ring: tuple[tuple[float, float], ...], small: int | None
) -> None:
    """Both directions, a start every 20 mm, whole rolls of 5 and 30 m packed; slivers left out."""
    shape = floor_shape(room_of(ring))
    sizes, needed = membrane.roll_sizes(VALUES), needed_floor(shape, VALUES.number("membrane.wall_gap"))
    sliver = VALUES.number("membrane.sliver")
    costs = [_rolls_cost(laid(room_of(ring)).strips, sizes)]
    for angle in (main_direction(shape), main_direction(shape) + 90.0):
        level, inner = turned(shape.floor, -angle), turned(needed, -angle)
        starts = [level.bounds[1] + 20 * number for number in range(50)]
        for bands in bands_of(level, inner, starts, 1000.0):
            mat = strips_laid(bands, angle, ROLL)
            if all(strip.width_mm >= sliver for strip in mat.strips):
                costs.append(_rolls_cost(mat.strips, sizes))
    assert costs[0] <= min(costs) + 1e-9
    assert small is None or costs[0] <= small * sizes[0].cost + 1e-9


def _rolls_cost(strips: Sequence[MembraneStrip], sizes: Sequence[Stock]) -> float:
    wanted = [(strip.length_m * 1000.0, strip.width_mm, 1) for strip in strips]
    return cut_strips(wanted, 1000.0, sizes, 0).plan.cost


def test_a_strip_longer_than_the_roll_is_joined_end_to_end() -> None:
    # 40 x 2 m from rolls of 30 m along 40: 2 strips of 30 and 2 of 10; one seam of 40 and two ends of 1 m.
    mat = lay_along(floor_shape(room_of(rectangle(40000, 2000))).floor, 0.0, ROLL)
    assert sorted(strip.length_m for strip in mat.strips) == pytest.approx([10, 10, 30, 30])
    assert mat.seam_length_m == pytest.approx(42.0)
    assert mat.rolls == 3


@settings(max_examples=20, deadline=None)
@given(rectilinear() | star())
def test_strips_cover_the_floor_and_never_lap(outline: Outline) -> None:
    shape = floor_shape(room_of(outline.ring, outline.holes))
    mat = membrane.lay(shape, Membrane(), VALUES)
    mats = [mat_of(strip) for strip in mat.strips]
    # Each grown by itself: a union of strips whose edges all but coincide may lose one of them.
    grown = [one.buffer(0.05) for one in mats]
    needed = needed_floor(shape, VALUES.number("membrane.wall_gap"))
    assert needed.difference(union_all(grown)).area < 1.0
    assert all(one.intersection(other).area < 1.0 for one, other in combinations(mats, 2))
    assert mat.area_m2 >= needed.area / 1e6 - 1e-6


@settings(max_examples=20, deadline=None)
@given(rectilinear() | star())
def test_seams_lie_where_two_strips_meet_on_the_floor(outline: Outline) -> None:
    # Brute force: the thin sliver that two strips, each grown by a tenth of a millimetre, share on the floor;
    # not on its last tenth at the edges, where a strip that ends has none beside it.
    shape = floor_shape(room_of(outline.ring, outline.holes))
    mat = membrane.lay(shape, Membrane(), VALUES)
    grown = [mat_of(strip).buffer(0.1, join_style="mitre") for strip in mat.strips]
    inner = shape.floor.buffer(-0.1, join_style="mitre")
    slivers = [one.intersection(other).intersection(inner).area for one, other in combinations(grown, 2)]
    assert mat.seam_length_m == pytest.approx(fsum(slivers) / 0.2 / 1000.0, abs=0.004 * len(mat.strips))


@settings(max_examples=12, deadline=None)
@given(rectilinear(), st.integers(-9000, 9000), st.integers(-9000, 9000))
def test_moving_the_room_changes_nothing(outline: Outline, x: int, y: int) -> None:
    polygon = Polygon(outline.ring, outline.holes)
    here, there = laid(room_of(outline.ring, outline.holes)), _laid_in(translate(polygon, x, y))
    assert _figures(there) == pytest.approx(_figures(here))


@settings(max_examples=12, deadline=None)
@given(rectilinear(), st.floats(1.0, 89.0))
def test_turning_the_room_turns_the_strips_with_it(outline: Outline, angle: float) -> None:
    # Wall 0 of a rectangle is its longest here, so that the choice of direction turns with the room.
    polygon = Polygon(outline.ring).envelope
    here, there = _laid_in(polygon), _laid_in(rotate(polygon, angle, origin=(0, 0)))
    assert _figures(there) == pytest.approx(_figures(here), abs=1e-5)


def _laid_in(polygon: Polygon) -> MembraneLayout:
    outline = outline_of(polygon)
    return laid(room_of(outline.ring, outline.holes))


def _figures(mat: MembraneLayout) -> tuple[float, ...]:
    return (mat.area_m2, mat.seam_length_m, float(len(mat.strips)), float(mat.rolls))


def test_what_is_bought() -> None:
    room = replace(room_of(rectangle(3200, 4000)), membrane=Membrane("thick"))
    mat = material(room, "membrane")
    assert mat.required == pytest.approx(12.8)
    assert mat.with_allowance == pytest.approx(12.8 * (1 + VALUES.number("membrane.loss")))
    assert fsum(reason.quantity for reason in mat.reasons) == pytest.approx(mat.with_allowance)
    assert mat.fitness[0].one_of == ("thick",)
    assert not mat.one_system
    assert material(replace(room, exposure="wet", waterproof=True), "membrane").one_system
    [work] = taken(room).step.work
    assert (work.activity, work.driver, work.quantity, work.unit) == ("lay_membrane", "area", 12.8, "m2")


def test_the_perimeter_strip_stands_above_the_finished_floor() -> None:
    room = room_of(rectangle(4000, 3000))
    strip = material(room, "perimeter_strip")
    assert strip.required == pytest.approx(14.0)
    assert strip.fitness[0].at_least == pytest.approx(finished_level_mm(room, VALUES) + 5.0)
    # Tile 9, film of the 1/4 x 3/8 in notch 3.368 mm at 45 degrees (plane geometry), mat 3 mm, its own film.
    assert finished_level_mm(room, VALUES) > 9 + 3.368 + 3


def test_without_a_membrane_only_the_perimeter_strip_is_left() -> None:
    bare = replace(room_of(rectangle(4000, 3000)), membrane=None)
    result = taken(bare)
    assert result.answer is None
    assert [m.role for m in result.step.materials] == ["perimeter_strip"]
    assert result.step.work == ()


def test_a_room_without_walls_has_no_perimeter_strip() -> None:
    assert [m.role for m in taken(room_of(rectangle(4000, 3000), walls=())).step.materials] == ["membrane"]


@pytest.mark.parametrize(("thickness", "verdict"), [("standard", "condition"), ("thick", "pass")])
def test_an_electric_cable_wants_the_thick_membrane(thickness: str, verdict: str) -> None:
    wanted = Membrane("thick") if thickness == "thick" else Membrane()
    room = replace(room_of(rectangle(4000, 3000)), heating="electric", membrane=wanted)
    step = taken(room).step
    assert [finding.verdict for finding in step.findings] == [verdict, "pass"]
    # 50 mm stay free along the walls (common practice): 3.9 x 2.9 m.
    assert material(room, "heating_cable").with_allowance == pytest.approx(11.31)
    assert [work.activity for work in step.work] == ["lay_membrane", "lay_heating_cable"]


@pytest.mark.parametrize(("length", "verdict"), [(1200, "condition"), (1300, "pass")])
def test_a_heating_cable_is_never_cut(length: float, verdict: str) -> None:
    """The usual sets begin at 1 m2 (common practice): 0.9 m wide within its margins it is 1.11 m long."""
    room = replace(room_of(rectangle(length, 1000)), heating="electric", membrane=Membrane("thick"))
    found = [f for f in taken(room).step.findings if f.rule == "heating_size"]
    assert [f.verdict for f in found] == [verdict]
    assert material(room, "heating_cable").never_above


def test_an_area_alone_gets_the_strips_of_its_rectangle() -> None:
    # 8 m2 with 11.4 m around it is 3.2 x 2.5 m: 3 strips of 3.2, of which a roll of 5 m gives one each; the
    # other way 4 of 2.5 = 10.0 m, two rolls.
    mat = laid(BARE)
    assert len(mat.strips) == 4
    assert mat.area_m2 == pytest.approx(10.0)


def test_an_area_alone_answers_quantities_and_no_places() -> None:
    mat = taken(BARE).answer
    assert mat is not None
    assert (mat.strips, mat.seams) == ((), ())
    assert (mat.area_m2, mat.seam_length_m, mat.rolls) == (pytest.approx(10.0), pytest.approx(7.5), 1)
    bought = material(BARE, "membrane")
    assert bought.required == pytest.approx(8.0)
    assert bought.with_allowance == pytest.approx(10.0 * (1 + VALUES.number("membrane.loss")))
    assert "a rectangle of this area and perimeter" in bought.reasons[1].text
