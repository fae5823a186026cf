"""Grout by the handbook's short form, by exact volume and by the laid-out joint."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box, union_all
from shapely.affinity import translate

from service.takeoff import grout
from service.takeoff.layout import lay_out
from service.takeoff.room import BareArea, Tile
from service.units import KG_PER_LB, M2_PER_FT2
from tests.takeoff.floors import US, bill, layout, room, shape, work

INCH = 25.4
R = 1.6


@pytest.mark.parametrize(
    ("length", "width", "depth", "joint", "short", "exact"),
    [
        # Joint volume with 1.6 kg/l, worked from plane geometry; the short form is the makers' usual table.
        (300, 300, 8, 3, 0.2560, 0.2522),
        (600, 600, 10, 3, 0.1600, 0.1588),
        (300, 600, 9, 3, 0.2160, 0.2135),
        (200, 1200, 9, 3, 0.2520, 0.2482),
        (100, 100, 6, 2, 0.3840, 0.3728),
        (50, 50, 6, 2, 0.7680, 0.7243),
        (450, 450, 9, 5, 0.3200, 0.3147),
        (150, 150, 8, 6, 1.0240, 0.9657),
        (12 * INCH, 12 * INCH, 5 / 16 * INCH, INCH / 8, 0.2646, 0.2605),
    ],
)
def test_both_forms(
    length: float, width: float, depth: float, joint: float, short: float, exact: float
) -> None:
    assert grout.short_form(length, width, depth, joint, R) == pytest.approx(short, abs=1e-4)
    assert grout.exact_form(length, width, depth, joint, R) == pytest.approx(exact, abs=1e-4)


def test_us_figure() -> None:
    """12 x 12 x 5/16 in, joint 1/8 in: 5.419 lb for 100 ft2 (short form)."""
    kg_m2 = grout.short_form(12 * INCH, 12 * INCH, 5 / 16 * INCH, INCH / 8, R)
    lb = kg_m2 * 100 * float(M2_PER_FT2) / float(KG_PER_LB)
    assert lb == pytest.approx(5.419, abs=1e-3)


def test_an_order_by_hand() -> None:
    """20 m2 of 300 x 600 x 9 mm, joint 3 mm, 10 % loss: 4.752 kg, one bag of 5 kg."""
    kg = grout.short_form(300, 600, 9, 3, R) * 20 * (1 + US.number("grout.loss"))
    assert kg == pytest.approx(4.752)
    assert ceil(kg / 5) == 1


def test_laid_out_grout_follows_the_joint() -> None:
    """130 m of 3 x 9 mm: 3.51 l, 5.616 kg and 10 % (by hand)."""
    made = grout.take(room(), shape(room()), layout(joint_length_m=130), US)
    material = bill(made)["grout"]
    assert material.required == pytest.approx(5.616)
    assert material.with_allowance == pytest.approx(6.1776)
    assert work(made) == {"grout": pytest.approx(130)}


def test_an_allowance_follows_the_exact_form() -> None:
    """Only 20 m2 and 18 m round it are known: the field, less 6 mm at the walls, is all joint and tile."""
    known = room(shape=BareArea(20, 18000))
    made = grout.take(known, shape(known), lay_out(known, shape(known), US), US)
    field = 4.988 * 3.988
    assert bill(made)["grout"].required == pytest.approx(field * grout.exact_form(300, 300, 9, 3, R))
    assert work(made)["grout"] == pytest.approx(field * (1 - (300 / 303) ** 2) / 0.003)


def test_fitness_brackets_the_joint() -> None:
    floor = room(joint=5)
    material = bill(grout.take(floor, shape(floor), layout(), US))["grout"]
    least, most = material.fitness
    assert (least.attribute, least.at_most) == ("joint_min_mm", 5)
    assert (most.attribute, most.at_least) == ("joint_max_mm", 5)


def test_no_joint_no_grout() -> None:
    tight = room(joint=0)
    assert grout.take(tight, shape(tight), layout(), US).materials == ()


@given(st.integers(50, 400), st.integers(50, 400), st.integers(1, 10))
def test_exact_form_against_drawn_joints(length: int, width: int, joint: int) -> None:
    """A 4 x 4 patch drawn with shapely: the patch less its tiles is the joint."""
    tile = box(0, 0, length, width)
    tiles = union_all(
        [translate(tile, i * (length + joint), j * (width + joint)) for i in range(4) for j in range(4)]
    )
    patch = 16 * (length + joint) * (width + joint)
    assert grout.exact_form(length, width, 10, joint, 1) == pytest.approx((patch - tiles.area) / patch * 10)


@given(st.floats(20, 1500), st.floats(20, 1500), st.floats(0.5, 12), st.floats(0.1, 5))
def test_the_short_form_is_never_less_and_wider_joints_take_more(
    length: float, width: float, joint: float, wider: float
) -> None:
    exact = grout.exact_form(length, width, 9, joint, R)
    assert exact <= grout.short_form(length, width, 9, joint, R)
    assert exact < grout.exact_form(length, width, 9, joint + wider, R)


def test_a_thicker_tile_takes_more() -> None:
    thick = replace(room(), tile=Tile(300, 300, thickness=12))
    one, other = (bill(grout.take(r, shape(r), layout(), US))["grout"].required for r in (room(), thick))
    assert other / one == pytest.approx(12 / 9)
