"""Which cautions a job gets."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.takeoff.cautions import CAUTIONS, take, text_of
from service.takeoff.room import Existing, Job, Room, Substrate
from service.trade.values import load_trade_values
from tests.takeoff.rooms import BARE, DRY_RECTANGLE, KITCHEN, ON, TERRACE, VALUES, WET_L

NOTHING: frozenset[str] = frozenset()
OLD = replace(DRY_RECTANGLE, existing=Existing("resilient"), doorways=())


def given(room: Room, *activities: str, standards: str = "us") -> set[str]:
    values = load_trade_values(standards, ON)
    told = take(Job((room,)), frozenset(activities), values)
    return {key for key, _ in CAUTIONS if text_of(key, values) in told}


def test_every_job_hears_what_stands_above_the_price() -> None:
    bare = replace(DRY_RECTANGLE, doorways=())
    assert given(bare) == {"authority", "concealed", "silica", "lifting", "appearance", "first_use"}
    # Regression: of all the cautions the one on authority stands first.
    assert "membrane maker's written instructions" in take(Job((bare,)), NOTHING, VALUES)[0]


@pytest.mark.parametrize(
    ("standards", "year", "suspect"),
    [
        ("us", 1980, True),  # 29 CFR 1926.1101: buildings to 1980
        ("us", 1981, False),
        ("uk", 1999, True),  # before 2000, from memory
        ("uk", 2000, False),
        ("de", 1993, True),  # before late 1993, from memory
        ("de", 1994, False),
        ("us", None, True),  # an unknown year is suspect
    ],
)
def test_asbestos_by_year(standards: str, year: int | None, suspect: bool) -> None:
    assert ("asbestos" in given(replace(OLD, built_year=year), standards=standards)) is suspect


def test_a_new_floor_in_an_old_house_disturbs_no_asbestos() -> None:
    assert "asbestos" not in given(replace(DRY_RECTANGLE, built_year=1950))


@pytest.mark.parametrize(("year", "suspect"), [(1977, True), (1978, False)])  # 40 CFR 745: before 1978
def test_lead_by_year(year: int, suspect: bool) -> None:
    assert ("lead" in given(replace(DRY_RECTANGLE, built_year=year))) is suspect


def test_cautions_follow_the_room() -> None:
    assert {"slip", "structure", "plumbing", "doors"} <= given(WET_L)
    assert {"electric_heating", "structure", "asbestos", "lead"} <= given(KITCHEN)
    assert {"frost", "slip"} <= given(TERRACE)
    assert "allowance" in given(BARE)
    assert {"water_heating", "heating_on"} <= given(replace(BARE, heating="water"))


def test_cautions_follow_the_work() -> None:
    assert {"wet_saw", "roller"} <= given(BARE, "cut_hole", "lay_membrane")
    assert "panels" in given(BARE, "set_panel")
    assert not {"wet_saw", "roller", "panels"} & given(BARE, "grout")


@pytest.mark.parametrize(
    ("standards", "silica", "slip"),
    [
        ("us", "29 CFR 1926.1153", "0.42"),  # OSHA silica rule; ANSI A326.3
        ("uk", "EH40", "36"),  # workplace limits; pendulum value, from memory
        ("de", "TRGS 559", "class A"),  # German dust rule, from memory
    ],
)
def test_each_country_has_its_own_words(standards: str, silica: str, slip: str) -> None:
    values = load_trade_values(standards, ON)
    assert silica in text_of("silica", values)
    assert slip in text_of("slip", values)


@pytest.mark.parametrize("standards", ["us", "uk", "de"])
def test_every_caution_has_words_in_every_country(standards: str) -> None:
    values = load_trade_values(standards, ON)
    words = [text_of(key, values) for key, _ in CAUTIONS]
    assert all(words)
    assert len(set(words)) == len(words)


def test_building_on_old_resilient_is_suspect_too() -> None:
    assert "asbestos" in given(replace(BARE, substrate=Substrate("existing_resilient")))
