"""Mortar films against plane geometry and published bag coverages."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import asin, ceil, sqrt
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff import mortar
from service.takeoff.answer import Waterproofing
from service.takeoff.notch import Notch, mean_film_mm, membrane_notch, notch_named, tile_notch
from service.takeoff.room import Exposure, Heating, Membrane, Skirting, Substrate, SubstrateKind, Tile
from service.units import KG_PER_LB, M2_PER_FT2
from tests.takeoff.floors import BY_STANDARDS, US, bill, layout, room, shape

INCH = 25.4
BAG_KG = 50 * float(KG_PER_LB)


def kg_per_m2(ft2_per_bag: float) -> float:
    return BAG_KG / (ft2_per_bag * float(M2_PER_FT2))


def square(width: float, depth: float | None = None) -> Notch:
    return Notch("square", width, depth or width, width)


V = Notch("v", INCH / 4, INCH * 3 / 16, 0)


@pytest.mark.parametrize(
    ("notch", "angle", "film"),
    [
        # Plane geometry: ridge area over pitch times the sine of the trowel's angle.
        (square(6), 90, 3.000),
        (square(6), 60, 2.598),
        (square(6), 45, 2.121),
        (square(INCH / 4, INCH * 3 / 8), 45, 3.368),
        (V, 45, 1.684),
        (V, 90, 2.381),
        (replace(V, land=INCH / 4), 45, 0.842),
        (square(INCH / 2), 60, 5.499),
        (square(4.5), 45, 1.591),
        (square(8), 60, 3.464),
        (square(10), 45, 3.536),
        (square(12), 45, 4.243),
    ],
)
def test_mean_film(notch: Notch, angle: float, film: float) -> None:
    assert mean_film_mm(notch, angle) == pytest.approx(film, abs=5e-4)


@pytest.mark.parametrize(
    ("name", "film"),
    [
        # d / 2 * sin 45 with equal land (plane geometry); the V with land 1/4 in half of 1.684.
        ("v_quarter", 0.842),
        ("square_4_5", 1.591),
        ("square_6", 2.121),
        ("square_quarter", 2.245),
        ("square_8", 2.828),
        ("quarter_by_three_eighths", 3.368),
        ("square_10", 3.536),
        ("square_12", 4.243),
        ("square_half", 4.490),
    ],
)
def test_the_trowels_in_use_leave_these_films(name: str, film: float) -> None:
    assert mean_film_mm(notch_named(name, US), 45) == pytest.approx(film, abs=5e-4)


def test_ridge_areas_against_an_integral_of_their_outlines() -> None:
    """Height of the ridge over the floor, summed over the notch's width (midpoint rule)."""
    width, depth, steps = 19.05, 14.2875, 200_000
    x = (np.arange(steps) + 0.5) / steps * width
    radius = width / 2
    round_bottom = depth - radius + np.sqrt(radius**2 - (x - radius) ** 2)
    peaked = depth * (1 - np.abs(x - radius) / radius)
    assert Notch("u", width, depth, 0).ridge_mm2 == pytest.approx(round_bottom.mean() * width, rel=1e-6)
    assert Notch("v", width, depth, 0).ridge_mm2 == pytest.approx(peaked.mean() * width, rel=1e-6)


def test_a_u_notch_is_at_least_a_half_circle_deep() -> None:
    with pytest.raises(ValueError, match="half as deep"):
        Notch("u", 10, 4.9, 10)


@pytest.mark.parametrize(
    ("name", "fewest", "most"),
    [
        # ft2 per 50 lb bag as several trade texts print them (common practice).
        ("square_quarter", 80, 100),
        ("quarter_by_three_eighths", 60, 80),
        ("square_half", 40, 50),
    ],
)
def test_ridges_meet_published_coverage(name: str, fewest: float, most: float) -> None:
    film = mean_film_mm(notch_named(name, US), US.number("mortar.trowel_angle"))
    assert kg_per_m2(most) <= mortar.powder_kg(1, film, US) <= kg_per_m2(fewest)


def test_bond_coat_under_the_membrane_meets_published_coverage() -> None:
    """150 to 200 ft2 per 50 lb for the whole coat under a standard mat (trade texts, common practice)."""
    film = sum(film for _, film in mortar.membrane_films(room(), US))
    assert kg_per_m2(200) <= mortar.powder_kg(1, film, US) <= kg_per_m2(150)


def test_powder_per_litre_that_a_published_coverage_implies() -> None:
    """90 ft2 per 50 lb with a 1/4 in square notch at 45 degrees: 1.208 kg/l; the value in use is near it."""
    implied = kg_per_m2(90) / mean_film_mm(square(INCH / 4), 45)
    assert implied == pytest.approx(1.208, abs=5e-4)
    assert US.number("mortar.powder_per_litre") == pytest.approx(implied, rel=0.02)


@pytest.mark.parametrize(("k", "kg"), [(1.2, 56.00), (1.3, 60.67)])
def test_bags_for_twenty_square_metres(k: float, kg: float) -> None:
    """20 m2, 6 mm square at 45 degrees, 10 % loss: 3 bags of 25 kg by either k (by hand)."""
    values = US.overridden_by({"mortar.powder_per_litre": k})
    needed = mortar.powder_kg(20, mean_film_mm(square(6), 45), values) * 1.1
    assert needed == pytest.approx(kg, abs=5e-3)
    assert ceil(needed / 25) == 3


def test_a_floor_by_hand() -> None:
    """20 m2 of 300 mm tile over a 3 mm membrane, US trowels, k 1.2, loss 10 %; every film by hand.

    Under the membrane: V 1/4 x 3/16 with land 1/4, sin 45: 0.8419 mm, and 0.4 mm key coat.
    Under the tile: 1/4 x 3/8 x 1/4, sin 45: 3.3676 mm, and 3 mm x 0.55 = 1.65 mm of cavities.
    """
    floor = room()
    made = bill(mortar.take(floor, shape(floor), layout(19.5, 0), None, US))
    assert set(made) == {"membrane_mortar", "tile_mortar"}
    assert made["membrane_mortar"].required == pytest.approx(20 * 1.2419 * 1.2, abs=0.01)
    assert made["membrane_mortar"].with_allowance == pytest.approx(20 * 1.2419 * 1.2 * 1.1, abs=0.01)
    assert made["tile_mortar"].required == pytest.approx(19.5 * 5.0176 * 1.2, abs=0.01)


def test_reasons_name_the_parts_and_make_the_whole() -> None:
    floor = room(tile=Tile(600, 600), skirting=Skirting(80))
    for material in mortar.take(floor, shape(floor), layout(), _wet(), US).materials:
        assert sum(r.quantity for r in material.reasons) == pytest.approx(material.with_allowance)
    texts = " ".join(
        r.text for r in bill(mortar.take(floor, shape(floor), layout(), None, US))["tile_mortar"].reasons
    )
    for word in ("ridges", "cavities", "backs buttered", "skirting", "mixing loss"):
        assert word in texts


def test_skirting_by_hand() -> None:
    """18 m of wall, 80 mm high, ridges of 3.3676 mm: 1.44 m2 x 3.3676 x 1.2 = 5.819 kg."""
    plain, skirted = room(), room(skirting=Skirting(80))
    kg = [
        bill(mortar.take(r, shape(r), layout(), None, US))["tile_mortar"].required for r in (plain, skirted)
    ]
    assert kg[1] - kg[0] == pytest.approx(5.819, abs=1e-3)


def test_band_mortar_by_hand() -> None:
    """21.1 m of 125 mm band: 2.6375 m2 x 2.2451 mm (square 1/4 in) x 1.2 = 7.106 kg, of the sealed system."""
    made = bill(mortar.take(room(), shape(room()), layout(), _wet(), US))["band_mortar"]
    assert made.required == pytest.approx(7.106, abs=1e-3)
    assert made.one_system


def _wet() -> Waterproofing:
    return Waterproofing(band_length_m=21.1, inside_corners=4, outside_corners=0, pipe_seals=0, drain_seals=1)


def test_without_a_membrane_there_is_one_mortar_for_the_substrate() -> None:
    floor = room(membrane=None, substrate=Substrate("existing_tile"))
    made = bill(mortar.take(floor, shape(floor), layout(), None, US))
    assert set(made) == {"tile_mortar"}
    assert "A118.1" not in made["tile_mortar"].fitness[0].one_of
    assert any("key coat" in reason.text for reason in made["tile_mortar"].reasons)


@pytest.mark.parametrize(
    ("kind", "accepted", "refused"),
    [
        # Classes by ground: ANSI A118 and EN 12004 words, choice by common practice.
        ("concrete_on_ground", {"A118.1", "A118.4", "C1", "C2", "C2S1"}, set()),
        ("plywood_on_joists", {"A118.11", "C2", "A118.4"}, {"A118.1", "C1"}),
        ("osb_on_joists", {"A118.11", "C2"}, {"A118.1", "C1"}),
        ("existing_resilient", {"A118.4", "C2"}, {"A118.1", "C1"}),
        ("screed_calcium_sulfate", {"C2"}, {"A118.1", "C1"}),
        ("gypsum_underlayment", {"A118.4"}, {"A118.1", "C1"}),
        ("screed_heated", {"C2S1", "A118.4"}, {"A118.1", "C1", "C2"}),
        ("exterior_slab", {"A118.15", "A118.4", "C2"}, {"A118.1", "C1"}),
        ("unknown", {"A118.4", "C2"}, {"A118.1", "C1"}),
    ],
)
def test_classes_by_ground(kind: SubstrateKind, accepted: set[str], refused: set[str]) -> None:
    classes = set(mortar.membrane_classes(room(substrate=Substrate(kind)), US))
    assert accepted <= classes
    assert not refused & classes


def test_on_the_membrane_plain_mortar_is_accepted_unless_heated_or_outdoors() -> None:
    assert "A118.1" in mortar.tile_classes(room(substrate=Substrate("plywood_on_joists")), US)
    assert "C1" not in mortar.tile_classes(room(exposure="exterior"), US)
    assert set(mortar.tile_classes(room(heating="water"), US)) == {"A118.4", "A118.15", "C2S1"}


def test_some_mortar_fits_every_floor() -> None:
    for kind, heating, exposure, values in product(
        get_args(SubstrateKind), get_args(Heating), get_args(Exposure), BY_STANDARDS.values()
    ):
        floor = room(substrate=Substrate(kind), heating=heating, exposure=exposure)
        assert mortar.membrane_classes(floor, values)
        assert mortar.tile_classes(floor, values)


@pytest.mark.parametrize(("edge", "large"), [(380.9, False), (381, True), (600, True)])
def test_large_format_from_fifteen_inches(edge: float, large: bool) -> None:
    """ANSI A108: an edge of 15 in or more wants large-format mortar; buttered backs by common practice."""
    floor = room(tile=Tile(300, edge))
    made = bill(mortar.take(floor, shape(floor), layout(), None, US))["tile_mortar"]
    assert ("large_format" in {f.attribute for f in made.fitness}) is large
    assert mortar.back_buttered(floor, US) is large


def test_backs_are_buttered_in_wet_and_exterior_places() -> None:
    assert mortar.back_buttered(room(exposure="wet"), US)
    assert mortar.back_buttered(room(exposure="exterior"), US)


@pytest.mark.parametrize(
    ("edge", "name"), [(50, "square_3"), (108, "square_4"), (200, "square_6"), (300, "square_8")]
)
def test_german_notches(edge: float, name: str) -> None:
    """DIN 18157-1, notch by edge length (from memory)."""
    assert tile_notch(edge, BY_STANDARDS["de"]) == notch_named(name, BY_STANDARDS["de"])


def test_a_thick_membrane_takes_more_mortar_above_and_below() -> None:
    made = [
        bill(mortar.take(r, shape(r), layout(), None, US)) for r in (room(), room(membrane=Membrane("thick")))
    ]
    for role in ("membrane_mortar", "tile_mortar"):
        assert made[1][role].required > made[0][role].required


@given(st.floats(20, 3000), st.floats(20, 3000), st.sampled_from(sorted(BY_STANDARDS)))
def test_a_longer_tile_never_takes_less_mortar(one: float, other: float, standards: str) -> None:
    values = BY_STANDARDS[standards]
    short, long = (
        sum(film for _, film in mortar.tile_films(room(tile=Tile(edge, 20)), values))
        for edge in sorted((one, other))
    )
    assert short <= long


@given(st.floats(1, 500), st.floats(1, 500), st.floats(5, 90), st.floats(5, 90))
def test_film_grows_with_area_and_angle(area: float, more: float, one: float, other: float) -> None:
    flat, steep = sorted((one, other))
    notch = membrane_notch("standard", US)
    assert mean_film_mm(notch, flat) <= mean_film_mm(notch, steep)
    assert mortar.powder_kg(area, 2, US) < mortar.powder_kg(area + more, 2, US)


def test_film_at_the_angle_whose_sine_is_a_half() -> None:
    notch = square(8)
    assert mean_film_mm(notch, np.degrees(asin(0.5))) == pytest.approx(mean_film_mm(notch, 90) / 2)
    assert mean_film_mm(notch, 45) == pytest.approx(mean_film_mm(notch, 90) / sqrt(2))
