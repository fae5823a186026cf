"""Sealant, rod and tape against handbook figures."""

from __future__ import annotations

from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff import sealant
from service.takeoff.room import Tile
from tests.takeoff.floors import US, bill, joints, layout, room, shape, work

US_CARTRIDGE_ML = 298.6926  # 10.1 US fl oz, NIST SP 811 B.8


@pytest.mark.parametrize(
    ("width", "depth", "of_310", "of_300", "of_10_oz"),
    [
        # Volume over cross-section (plane geometry).
        (6, 6, 8.611, 8.333, 8.297),
        (8, 6, 6.458, 6.250, 6.223),
        (10, 8, 3.875, 3.750, 3.734),
        (10, 10, 3.100, 3.000, 2.987),
        (6.35, 6.35, 7.688, 7.440, 7.408),
    ],
)
def test_metres_per_cartridge(
    width: float, depth: float, of_310: float, of_300: float, of_10_oz: float
) -> None:
    for ml, metres in ((310, of_310), (300, of_300), (US_CARTRIDGE_ML, of_10_oz)):
        assert sealant.metres_per_cartridge(ml, width, depth) == pytest.approx(metres, abs=6e-4)


def test_cartridges_for_a_perimeter() -> None:
    """14 m of 6 x 6 mm and 10 %: 554.4 ml, 2 cartridges of 310 ml (by hand)."""
    made = bill(sealant.take(room(), shape(room()), layout(), joints(14), US))["sealant"]
    assert made.required == pytest.approx(504)
    assert made.with_allowance == pytest.approx(554.4)
    assert ceil(made.with_allowance / 310) == 2


@pytest.mark.parametrize(
    ("width", "depth"),
    [
        (2, 2),  # never deeper than wide (ASTM C1193, from memory)
        (6, 6),  # square in usual floor joints (common practice)
        (8, 6.35),
        (12.7, 6.35),
        (20, 10),  # half the width in wide joints (ASTM C1193, from memory)
    ],
)
def test_depth(width: float, depth: float) -> None:
    assert sealant.depth_mm(width, US) == pytest.approx(depth)


@given(st.floats(0.5, 60))
def test_depth_lies_between_half_the_width_and_the_width(width: float) -> None:
    depth = sealant.depth_mm(width, US)
    assert width / 2 - 1e-9 <= depth <= width
    assert depth >= min(width, 3.175)


@given(st.floats(0.5, 60), st.floats(0, 20))
def test_a_wider_joint_takes_no_less(width: float, more: float) -> None:
    def volume(w: float) -> float:
        return sealant.volume_ml(1, w, sealant.depth_mm(w, US))

    assert volume(width) <= volume(width + more) + 1e-9


def test_field_and_doorways_only_where_no_profile_makes_them() -> None:
    sealed, profiled = room(), room(movement_joint="profile")
    along = joints(18, 8, 0.9)
    assert work(sealant.take(sealed, shape(sealed), layout(), along, US)) == {"sealant": pytest.approx(26.9)}
    assert work(sealant.take(profiled, shape(profiled), layout(), along, US)) == {"sealant": 18}


def test_wet_rooms_want_a_sealant_for_wet_places() -> None:
    def wanted(floor_exposure: str) -> set[str]:
        floor = room(exposure=floor_exposure)
        made = bill(sealant.take(floor, shape(floor), layout(), joints(), US))["sealant"]
        return {fitness.attribute for fitness in made.fitness}

    assert wanted("dry") == {"use"}
    assert wanted("wet") == wanted("exterior") == {"use", "wet"}


@pytest.mark.parametrize(
    ("width", "least", "most"),
    [(6, 7.5, 8.0), (6.35, 7.9375, 8.467), (10, 12.5, 13.334), (12, 15, 16.0), (5, 6.25, 8.0)],
)
def test_rod_is_a_quarter_to_a_third_thicker(width: float, least: float, most: float) -> None:
    """25 to 33 % over the joint's width (from memory); where no rod is made so, the next one made."""
    thin, thick = sealant.rod_diameters(width, US)
    assert thin == pytest.approx(least)
    assert thick == pytest.approx(most, abs=2e-3)


def test_tape_where_the_joint_is_too_shallow_for_rod() -> None:
    """9 mm tile on 3 mm mortar is 12 mm deep: 6 mm of sealant leave no room for a 7.5 mm rod."""
    thin, thick = room(), room(tile=Tile(300, 300, thickness=12))
    made = [bill(sealant.take(r, shape(r), layout(), joints(), US)) for r in (thin, thick)]
    assert "bond_breaker_tape" in made[0]
    assert "backer_rod" not in made[0]
    assert made[1]["backer_rod"].with_allowance == pytest.approx(18 * 1.05)
    assert made[1]["backer_rod"].fitness[0].attribute == "diameter_mm"


def test_each_width_has_its_own_backing() -> None:
    step = sealant.take(room(), shape(room()), layout(), joints(18, 6, 0, width=10), US)
    tapes = [m for m in step.materials if m.role == "bond_breaker_tape"]
    assert [(m.fitness[0].at_least, m.required) for m in tapes] == [(6, 18), (10, 6)]
    [filled] = [m for m in step.materials if m.role == "sealant"]
    assert filled.required == pytest.approx(18 * 36 + 6 * 10 * 6.35)


def test_nothing_to_seal() -> None:
    step = sealant.take(room(), shape(room()), layout(), joints(0), US)
    assert (step.materials, step.work, step.waits) == ((), (), ())


def test_sealing_waits_for_the_grout() -> None:
    step = sealant.take(room(), shape(room()), layout(), joints(), US)
    assert [(wait.after, wait.hours) for wait in step.waits] == [("grouting", 24)]
