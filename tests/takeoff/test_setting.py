"""Tiles to buy, the class and factors of setting, cuts, and materials added up over rooms."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff.answer import Cuts, Layout, Material, Reason, Step
from service.takeoff.factors import product_of
from service.takeoff.geometry import floor_shape
from service.takeoff.labour import labour_lines
from service.takeoff.merge import merged, owned
from service.takeoff.rates import LabourRate
from service.takeoff.room import Pattern, Room, Tile
from service.takeoff.setting import (
    lifting_factor,
    pattern_factor,
    room_factor,
    setting_factors,
    size_class,
    take,
    with_attic_stock,
)
from tests.takeoff.rooms import DRY_RECTANGLE, LABOUR, VALUES, walled

CUTS = Cuts(straight=17, notch_l=2, hole=1)
LAYOUT = Layout(None, 70, 54, 16, CUTS, 4.8, 110.0, 70, 69, 5.0, 6.0, 40.0)


def step(room: Room = DRY_RECTANGLE, layout: Layout = LAYOUT) -> Step:
    return take(room, floor_shape(room), layout, VALUES)


def test_breakage_and_attic_stock_are_lines_of_their_own() -> None:
    # By hand: 70 laid out, 3 % of 70 = 2.1, so 3 may break; 2 % of 70 = 1.4, so the least of 5 is kept.
    [tiles] = step().materials
    assert (tiles.required, tiles.with_allowance) == (70, 73)
    assert [reason.quantity for reason in with_attic_stock(tiles, VALUES).reasons] == [70, 3, 5]


def test_five_percent_spare_of_a_textbook_room() -> None:
    # By hand: 56 tiles and 5 % spare are 58.8, so 59 tiles, in boxes of 4 as 15 boxes.
    own = VALUES.overridden_by({"setting.breakage": 0.05})
    [tiles] = take(DRY_RECTANGLE, floor_shape(DRY_RECTANGLE), replace(LAYOUT, tiles_needed=56), own).materials
    assert tiles.with_allowance == 59
    assert -(-tiles.with_allowance // 4) == 15


def test_a_share_that_comes_out_whole_stays_whole() -> None:
    own = VALUES.overridden_by({"setting.breakage": 0.07})  # 0.07 x 100 is a hair over 7 in binary
    layout = replace(LAYOUT, tiles_needed=100)
    [tiles] = take(DRY_RECTANGLE, floor_shape(DRY_RECTANGLE), layout, own).materials
    assert tiles.with_allowance == 107


def test_an_allowance_has_its_breakage_in_it() -> None:
    [tiles] = step(layout=replace(LAYOUT, laid_out=False)).materials
    assert tiles.with_allowance == tiles.required == 70


def test_attic_stock_is_kept_for_the_tile_and_not_for_each_room() -> None:
    # By hand: 3 rooms of 70 are 210, 2 % of it 4.2, so 5 tiles once; 10 rooms of 70: 14 tiles.
    [tiles] = step().materials
    for count, stock in ((3, 5), (10, 14)):
        [together] = merged(
            owned(tiles, replace(DRY_RECTANGLE, name=f"Room {number}")) for number in range(count)
        )
        assert with_attic_stock(together, VALUES).reasons[-1].quantity == stock


def test_tile_is_asked_for_by_product_or_by_size() -> None:
    [by_size] = step().materials
    [by_product] = step(replace(DRY_RECTANGLE, tile=Tile(300.0, 300.0, product="slate-grey"))).materials
    assert {fit.attribute for fit in by_size.fitness} == {"length_mm", "width_mm", "thickness_mm", "material"}
    assert all((fit.at_least or 0) < 300 < (fit.at_most or 0) for fit in by_size.fitness[:2])
    assert (by_product.product, by_product.fitness) == ("slate-grey", ())
    assert by_size.piece_m2 == pytest.approx(0.09)


@pytest.mark.parametrize(
    ("length", "width", "activity"),
    [  # size steps of public unit-price books, from memory
        (50.0, 50.0, "set_mosaic"),
        (100.0, 100.0, "set_small"),
        (150.0, 150.0, "set_small"),
        (300.0, 300.0, "set_medium"),
        (300.0, 100.0, "set_medium"),
        (300.0, 600.0, "set_large"),
        (600.0, 600.0, "set_large"),
        (600.0, 1200.0, "set_extra_large"),
        (200.0, 1200.0, "set_plank"),
        (600.0, 200.0, "set_plank"),
        (1000.0, 1000.0, "set_panel"),
        (3000.0, 1000.0, "set_panel"),
    ],
)
def test_size_classes(length: float, width: float, activity: str) -> None:
    assert size_class(Tile(length, width), VALUES) == activity


def test_hours_of_a_room_of_porcelain_laid_askew() -> None:
    # By hand: 17.88 m2 of tile and 40 m of 3 mm joint are 18 m2; 18 x 0.60 h/m2 x 1.20 laid diagonally x 1.10
    # for porcelain = 14.256 h (from memory).
    room = replace(DRY_RECTANGLE, pattern=Pattern(rotation=45.0))
    rates = replace(LABOUR, rates=(LabourRate("set_medium", "area", "m2", 0.60),))
    [line] = labour_lines(
        step(room, replace(LAYOUT, tiled_area_m2=17.88, joint_length_m=40.0)).work[:1], rates
    )
    assert (line.quantity * line.rate, line.hours) == (pytest.approx(14.256), 14.26)


@pytest.mark.parametrize(
    ("pattern", "factor"),
    [  # middles of the ranges of public unit-price books, from memory
        (Pattern(), 1.0),
        (Pattern(rotation=90.0), 1.0),
        (Pattern(rotation=45.0), 1.2),
        (Pattern("running_bond"), 1.1),
        (Pattern("running_bond", rotation=45.0), 1.2),
        (Pattern("hexagon"), 1.25),
        (Pattern("herringbone", rotation=45.0), 1.45),
    ],
)
def test_the_harder_of_pattern_and_angle_counts(pattern: Pattern, factor: float) -> None:
    shape = floor_shape(DRY_RECTANGLE)
    assert pattern_factor(replace(DRY_RECTANGLE, pattern=pattern), shape, VALUES).factor == factor


@pytest.mark.parametrize(
    ("rotation", "factor"), [(45.0, 1.0), (-45.0, 1.0), (44.95, 1.0), (0.0, 1.2), (40.0, 1.2)]
)
def test_courses_along_the_walls_are_straight_however_the_room_is_drawn(
    rotation: float, factor: float
) -> None:
    # By hand: the walls of this rectangle run at 45 and 135 degrees.
    ring = ((0.0, 0.0), (3000.0, 3000.0), (1000.0, 5000.0), (-2000.0, 2000.0))
    room = replace(DRY_RECTANGLE, shape=walled(ring), doorways=(), pattern=Pattern(rotation=rotation))
    assert pattern_factor(room, floor_shape(room), VALUES).factor == factor


def test_factors_are_the_organisations_own_where_it_has_them() -> None:
    own = VALUES.overridden_by({"setting.material_factor.porcelain": 2.0})
    assert product_of(setting_factors(DRY_RECTANGLE, floor_shape(DRY_RECTANGLE), 10.0, own)) == 2.0


def test_small_and_large_rooms() -> None:
    # 1.2-1.5 under 5 m2 and 0.85-0.95 over 50 m2, from memory.
    assert room_factor(3.0, VALUES).factor == 1.3
    assert room_factor(4.5, VALUES).factor == pytest.approx(5 / 4.5)
    assert (
        room_factor(5.0, VALUES).factor
        == room_factor(20.0, VALUES).factor
        == room_factor(50.0, VALUES).factor
        == 1.0
    )
    assert room_factor(80.0, VALUES).factor == 0.9


@given(st.floats(0.1, 200), st.floats(0, 20))
def test_a_larger_room_never_takes_less_time(area: float, more: float) -> None:
    larger = area + more
    assert larger * room_factor(larger, VALUES).factor >= area * room_factor(area, VALUES).factor - 1e-9


def test_every_kind_of_cut_is_its_own_work() -> None:
    cuts = {work.activity: work.quantity for work in step().work if work.driver == "cuts"}
    assert cuts == {"cut_straight": 17, "cut_notch_l": 2, "cut_hole": 1}


@pytest.mark.parametrize(("edge", "hours"), [(300.0, 24.0), (380.0, 24.0), (381.0, 48.0), (600.0, 48.0)])
def test_large_porcelain_on_a_membrane_waits_longer_for_grout(edge: float, hours: float) -> None:
    # 24 h, up to 48-72 h for large porcelain over an impervious membrane (common practice).
    room = replace(DRY_RECTANGLE, tile=Tile(edge, edge))
    assert step(room).waits[0].hours == hours
    assert step(replace(room, membrane=None)).waits[0].hours == 24.0
    assert step(replace(room, tile=Tile(edge, edge, material="ceramic"))).waits[0].hours == 24.0


def material(quantity: float, role: str = "grout", product: str | None = None) -> Material:
    return Material(role, "kg", quantity, 1.1 * quantity, (Reason("joints", quantity),), product=product)


def test_the_office_chooses_the_product_of_a_role() -> None:
    bath = replace(DRY_RECTANGLE, choices=(("grout", "grey"), ("sealant", "white")))
    assert owned(material(2.0), bath).product == "grey"
    assert owned(material(2.0, role="tile", product="slate"), bath).product == "slate"


def test_like_materials_are_added_up_over_rooms() -> None:
    bath, hall = (
        owned(material(kg), replace(DRY_RECTANGLE, name=name)) for kg, name in ((2.0, "Bath"), (3.0, "Hall"))
    )
    [grout] = merged([bath, hall])
    assert (grout.required, grout.with_allowance, grout.rooms) == (5.0, pytest.approx(5.5), ("Bath", "Hall"))
    assert grout.reasons == (Reason("Bath: joints", 2.0), Reason("Hall: joints", 3.0))


@pytest.mark.parametrize(
    "other",
    [material(1.0, role="primer"), material(1.0, product="grey"), replace(material(1.0), one_system=True)],
)
def test_unlike_materials_stay_apart(other: Material) -> None:
    assert len(merged([material(1.0), other])) == 2


def test_tile_that_two_people_lift_takes_longer() -> None:
    """Stone of 1200 x 600 x 25 mm at 2700 kg/m3 weighs 48.6 kg; NIOSH allows one person 23 kg."""
    thin, thick = (
        lifting_factor(replace(DRY_RECTANGLE, tile=Tile(1200, 600, t, "stone")), VALUES) for t in (9, 25)
    )
    assert thin == ()
    assert [each.factor for each in thick] == [1.5]
    panel = replace(DRY_RECTANGLE, tile=Tile(3000, 1000, 10))
    assert lifting_factor(panel, VALUES) == ()
