"""Hours from work, against figures worked outside and the range of a tiler's day."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import fsum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff.answer import Cuts, LabourLine, Work
from service.takeoff.errors import InputError
from service.takeoff.factors import Factor, LabourPart
from service.takeoff.labour import default_labour_table, hours_of, labour_lines, sums, up_to_minimum
from service.takeoff.rates import LabourRate
from service.takeoff.room import Site, Tile
from service.takeoff.setting import cutting
from service.takeoff.site import daily_setup
from service.takeoff.site import take as take_site
from tests.takeoff.rooms import LABOUR, VALUES

ACTIVITIES = [rate.activity for rate in LABOUR.rates]
PATTERN_120, PORCELAIN_110 = Factor("pattern", 1.2, "diagonal"), Factor("material", 1.1, "porcelain")
SET_060 = replace(LABOUR, rates=(LabourRate("set_large", "area", "m2", 0.60),))


def test_hours_are_quantity_by_rate_by_factors() -> None:
    # Worked by hand: 18 m2 x 0.60 h/m2 x 1.20 for the pattern x 1.10 for porcelain = 14.256 h (from memory),
    # to the hundredth 14.26 h.
    [line] = labour_lines([Work("set_large", "area", 18.0, "m2", (PATTERN_120, PORCELAIN_110))], SET_060)
    assert line.hours == 14.26
    assert line.quantity == 18.0
    assert line.rate == pytest.approx(0.792)


@pytest.mark.parametrize(
    ("quantity", "hours"), [(0.575, 0.35), (0.5749, 0.34), (1.675, 1.01), (0.008, 0.0), (0.009, 0.01)]
)
def test_hours_are_rounded_once_halves_upwards(quantity: float, hours: float) -> None:
    # By hand at 0.60 h/m2: 0.345, 0.34494, 1.005, 0.0048 and 0.0054 h.
    [line] = labour_lines([Work("set_large", "area", quantity, "m2")], SET_060)
    assert line.hours == hours


def test_a_least_of_odd_hours_is_reached_and_not_passed_by_a_part() -> None:
    # By hand: 3 h of work and a least of 4.004 h: 1.01 h more, since 1.00 h would fall short.
    odd = replace(SET_060, minimum_hours=4.004)
    assert sums(up_to_minimum(labour_lines([Work("set_large", "area", 5.0, "m2")], odd), odd)).total == 4.01


def test_rooms_of_unlike_factor_share_a_line() -> None:
    # By hand: 10 x 0.6 x 1.0 + 5 x 0.6 x 1.3 = 6.0 + 3.9 = 9.9 h over 15 m2, so 0.66 h/m2.
    plain, slow = (
        Work("set_large", "area", 10.0, "m2"),
        Work("set_large", "area", 5.0, "m2", (Factor("room", 1.3, "small room"),)),
    )
    [line] = labour_lines([plain, slow], SET_060)
    assert (line.quantity, line.rate, line.hours, line.base_hours) == (15.0, pytest.approx(0.66), 9.9, 9.0)
    assert line.parts == (
        LabourPart("set_large", 10.0, 0.6),
        LabourPart("set_large", 5.0, 0.6, slow.factors),
    )


def test_a_rate_of_a_pattern_holds_in_place_of_its_factor() -> None:
    # By hand: 18 x 1.10 x 0.90 = 17.82 h herringbone at its own rate; 10 x 0.60 x 1.20 = 7.2 h by the factor.
    table = replace(SET_060, rates=(*SET_060.rates, LabourRate("set_large:herringbone", "area", "m2", 0.90)))
    herringbone = Factor("pattern", 1.45, "herringbone", of="herringbone")
    work = [
        Work("set_large", "area", 18.0, "m2", (herringbone, PORCELAIN_110)),
        Work("set_large", "area", 10.0, "m2", (PATTERN_120,)),
    ]
    [line] = labour_lines(work, table)
    assert line.hours == 25.02
    assert [(part.rate, part.factors) for part in line.parts] == [
        ("set_large:herringbone", (PORCELAIN_110,)),
        ("set_large", (PATTERN_120,)),
    ]


def test_cuts_have_rates_by_material_where_the_table_has_them() -> None:
    rates = (LabourRate("cut_hole", "cuts", "cut", 0.1), LabourRate("cut_hole:stone", "cuts", "cut", 0.25))
    tiles = [Tile(300.0, 300.0, material=material) for material in ("stone", "ceramic")]
    work = [each for tile in tiles for each in cutting(Cuts(hole=4), tile)]
    [line] = labour_lines(work, replace(LABOUR, rates=rates))
    assert line.hours == 1.4  # 4 x 0.25 + 4 x 0.1
    assert [part.quantity for part in line.parts] == [4, 4]


def test_a_missing_rate_is_named_with_its_pointer() -> None:
    with pytest.raises(InputError, match="no rate for grout, per m") as refused:
        labour_lines([Work("grout", "metres", 30.0, "m")], SET_060)
    assert refused.value.pointer == "/labour_rates/grout"


def test_a_rate_in_another_unit_is_refused() -> None:
    by_the_foot = replace(LABOUR, rates=(LabourRate("set_large", "area", "ft2", 0.06),))
    with pytest.raises(InputError, match="per ft2, the work is counted per m2"):
        labour_lines([Work("set_large", "area", 1.0, "m2")], by_the_foot)


def test_no_work_makes_no_line() -> None:
    assert labour_lines([Work("grout", "metres", 0.0, "m")], LABOUR) == ()


def test_a_small_job_is_charged_the_least() -> None:
    lines = labour_lines([Work("set_large", "area", 5.0, "m2")], SET_060)
    topped = up_to_minimum(lines, SET_060)
    assert topped[-1] == LabourLine("minimum_callout", "fixed", 1.0, "h", 1.0, 1.0, 1.0)  # 4 h less 3 h
    assert sums(topped).total == 4.0


def test_a_job_of_the_least_hours_gets_no_callout() -> None:
    exact = replace(SET_060, minimum_hours=3.0)
    lines = labour_lines([Work("set_large", "area", 5.0, "m2")], exact)
    assert up_to_minimum(lines, exact) == lines


works = st.lists(
    st.builds(
        lambda rate, quantity, factor: Work(
            rate.activity, rate.driver, quantity, rate.unit, (Factor("room", factor, "x"),)
        ),
        st.sampled_from(LABOUR.rates),
        st.floats(0, 1000),
        st.floats(0.5, 2),
    ),
    max_size=30,
)


@given(works)
def test_sums_are_exact_as_decimals(work: list[Work]) -> None:
    lines = up_to_minimum(labour_lines(work, LABOUR), LABOUR)
    hours = sums(lines)
    printed = Decimal(f"{hours.total:.2f}")
    assert printed == Decimal(repr(hours.total)), "printing to the hundredth loses nothing"
    assert printed == sum(Decimal(repr(line.hours)) for line in lines)
    assert printed == sum(Decimal(repr(part)) for _, part in hours.by_driver)
    assert hours.total >= LABOUR.minimum_hours


@given(works)
def test_lines_hold_what_the_work_holds(work: list[Work]) -> None:
    rates = LABOUR.by_activity
    plainly = fsum(w.quantity * w.factor * rates[w.activity].hours for w in work)
    lines = labour_lines(work, LABOUR)
    assert hours_of(work, LABOUR) == pytest.approx(plainly, abs=0.005 * len(lines) + 1e-6)
    for line in lines:
        assert line.hours == pytest.approx(line.quantity * line.rate, abs=0.005 + 1e-6)


@pytest.mark.parametrize(
    "activity", ["mobilise", "grout", "remove_tile", "flood_test", "set_panel", "cut_hole"]
)
def test_default_rates_lie_in_the_ranges_of_practice(activity: str) -> None:
    ranges = {  # hours per unit, public unit-price books, from memory
        "mobilise": (1, 3),
        "grout": (0.02, 0.04),
        "remove_tile": (0.5, 1.0),
        "flood_test": (1, 2),
        "set_panel": (0.9, 2.0),
        "cut_hole": (3 / 60, 10 / 60),
    }
    least, most = ranges[activity]
    assert least <= LABOUR.by_activity[activity].hours <= most


@pytest.mark.parametrize(
    ("activity", "minutes"),
    [  # public unit-price books, from memory
        ("cut_straight", 2),
        ("cut_diagonal", 3),
        ("cut_notch_l", 6),
        ("cut_notch_u", 8),
        ("cut_hole", 6),
        ("cut_curve", 15),
        ("pipe_seal", 8),
        ("inside_corner", 6),
        ("outside_corner", 6),
        ("lay_membrane", 10),
        ("sealant", 4),
        ("profile", 7),
    ],
)
def test_rates_of_whole_minutes(activity: str, minutes: int) -> None:
    assert LABOUR.by_activity[activity].hours == round(minutes / 60, 6)


def test_the_opening_table_is_made_of_trade_values() -> None:
    own = VALUES.overridden_by({"labour.hours.grout": 0.5, "labour.crew": 3})
    table = default_labour_table(own, id="x", currency="EUR")
    assert table.by_activity["grout"].hours == 0.5
    assert (table.id, table.currency, table.crew) == ("x", "EUR", 3)
    assert len(ACTIVITIES) == len(set(ACTIVITIES)) == len(LABOUR.by_activity)


def test_a_plain_site_adds_coming_once() -> None:
    assert [work.activity for work in take_site(Site(), 20.0, VALUES).work] == ["mobilise"]


def test_stairs_and_a_long_way_add_carrying() -> None:
    # By hand: 20 m2 up 2 floors = 40 m2 floor; 15 m less the 10 m that each job has = 5 m, 100 m2 m.
    work = {w.activity: w for w in take_site(Site(floor=2, lift=False, carry=15000.0), 20.0, VALUES).work}
    assert work["carry_stairs"].quantity == 40.0
    assert work["carry_distance"].quantity == 100.0
    assert "protect" not in work


def test_a_lift_saves_the_stairs_and_a_cellar_has_them_too() -> None:
    with_lift = take_site(Site(floor=2), 20.0, VALUES)
    cellar = take_site(Site(floor=-1, lift=False), 20.0, VALUES)
    assert "carry_stairs" not in {w.activity for w in with_lift.work}
    assert {w.activity: w.quantity for w in cellar.work}["carry_stairs"] == 20.0


def test_an_occupied_home_is_covered() -> None:
    # By hand: 20 m2 of floor and 15 m of way a metre wide = 35 m2, laps a tenth: 38.5 m2.
    site = Site(carry=15000.0, occupied=True)
    [cover] = take_site(site, 20.0, VALUES).materials
    assert (cover.role, cover.required, cover.with_allowance) == ("protection", 35.0, 38.5)
    assert daily_setup(site, 4, VALUES).factor > daily_setup(Site(), 4, VALUES).factor == 1.0


def test_what_the_site_adds_is_given_its_reason() -> None:
    work = take_site(Site(floor=2, lift=False, carry=25000.0, occupied=True), 20.0, VALUES).work
    reasons = {each.activity: each.reason for each in work}
    assert reasons == {
        "mobilise": "",
        "carry_stairs": "2 floors by stairs, no lift",
        "carry_distance": "15 m beyond 10 m",
        "protect": "occupied home",
    }
    [occupied] = daily_setup(Site(occupied=True), 3, VALUES).factors
    assert (occupied.factor, occupied.reason, bool(occupied.source)) == (1.5, "occupied home", True)
