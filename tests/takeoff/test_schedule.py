"""Visits and working days, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff import take_off
from service.takeoff.answer import Wait, Work
from service.takeoff.labour import hours_of
from service.takeoff.rates import LabourRate
from service.takeoff.room import (
    Doorway,
    Existing,
    Flatness,
    Job,
    Obstruction,
    Room,
    Skirting,
    Substrate,
    Tile,
)
from service.takeoff.schedule import Stage, days_of, longest_waits, plan, setup_days, visit_hours
from tests.takeoff.rooms import LABOUR, VALUES, rectangle, walled

RATES = tuple(LabourRate(name, "fixed", "job", 1.0) for name in ("mobilise", "level", "set_large", "grout"))
WET_ROOM = Room(
    name="Shower room",
    shape=walled(rectangle(4200.0, 3000.0)),
    tile=Tile(300.0, 300.0),
    doorways=(Doorway(wall=0, offset=400.0, width=900.0, adjoining="carpet", adjoining_level=8.0),),
    obstructions=(Obstruction("drain", centre=(900.0, 1200.0), diameter=110.0),),
    exposure="wet",
    waterproof=True,
    substrate=Substrate("concrete_on_ground", flatness=Flatness(5.0, 3000.0)),
    existing=Existing("resilient"),
    built_year=2005,
    falls="point",
    origin="corner",
    skirting=Skirting(80.0),
)
TABLE = replace(LABOUR, rates=RATES, crew=2, productive_hours_per_day=6.5)


def hours(activity: str, quantity: float) -> Work:
    return Work(activity, "fixed", quantity, "job")


def wait(after: str, quantity: float) -> Wait:
    return Wait(after, quantity, "common practice")


def test_each_long_wait_makes_a_visit() -> None:
    stages = (
        Stage("level", 3.0, (wait("level", 24.0),)),
        Stage("setting", 10.0, (wait("setting", 24.0),)),
        Stage("grouting", 2.0, (wait("grouting", 24.0),)),
    )
    assert visit_hours(stages, wait_on_site=4.0, overnight=16.0) == ((3.0,), (10.0,), (2.0,))


def test_a_short_wait_is_sat_out() -> None:
    stages = (Stage("prime", 1.0, (wait("prime", 4.0),)), Stage("level", 2.0))
    assert visit_hours(stages, wait_on_site=4.0, overnight=16.0) == ((3.0,),)


@pytest.mark.parametrize("hours_of_wait", [4.1, 12.0, 16.0])
def test_a_wait_through_the_night_keeps_the_visit_and_ends_the_day(hours_of_wait: float) -> None:
    stages = (Stage("level", 1.0, (wait("level", hours_of_wait),)), Stage("membrane", 2.0))
    assert visit_hours(stages, wait_on_site=4.0, overnight=16.0) == ((1.0, 2.0),)


def test_a_longer_wait_after_a_night_still_ends_the_visit() -> None:
    stages = (
        Stage("level", 1.0, (wait("level", 12.0),)),
        Stage("membrane", 0.0, (wait("membrane", 24.0),)),
        Stage("setting", 2.0),
    )
    assert visit_hours(stages, wait_on_site=4.0, overnight=16.0) == ((1.0,), (2.0,))


def test_a_wait_before_any_work_makes_no_visit() -> None:
    stages = (Stage("prepare", 0.0, (wait("prepare", 72.0),)), Stage("setting", 5.0))
    assert visit_hours(stages, wait_on_site=4.0, overnight=16.0) == ((5.0,),)


def test_days_by_hand() -> None:
    # Crew of 2 at 6.5 h is 13 h a day. Levelling with coming 2 + 1 = 3 h: a day. Setting 20 h: 1.54, so
    # 2 days. Grouting 2 h: a day. Together 4 days in 3 visits.
    work = [hours("mobilise", 2.0), hours("level", 1.0), hours("set_large", 20.0), hours("grout", 2.0)]
    schedule = plan(work, [wait("level", 48.0), wait("setting", 48.0)], TABLE, VALUES)
    assert (schedule.visits, schedule.working_days, schedule.crew) == (3, 4, 2)
    assert [w.after for w in schedule.waits] == ["level", "setting"]


def test_a_night_is_no_visit_but_a_day() -> None:
    # The same with 24 h after levelling: work goes on the next day, still 1 + 2 + 1 days, in 2 visits.
    work = [hours("mobilise", 2.0), hours("level", 1.0), hours("set_large", 20.0), hours("grout", 2.0)]
    schedule = plan(work, [wait("level", 24.0), wait("setting", 48.0)], TABLE, VALUES)
    assert (schedule.visits, schedule.working_days) == (2, 4)


def test_every_visit_is_a_day_at_least() -> None:
    schedule = plan([hours("set_large", 6.5), hours("grout", 1.0)], [wait("setting", 48.0)], TABLE, VALUES)
    assert (schedule.visits, schedule.working_days) == (2, 2)


def test_a_few_hours_are_done_by_one() -> None:
    # Common practice. Crew of 2 at 6.5 h: 15 h are a day of both and 2 h of one; of the next day's 4 h one
    # takes care too, of 4.5 h both. Set-up: two days of both and, at half, three of one: 2 x 2 + 3 x 0.5.
    assert [days_of(h, TABLE, 4.0) for h in (15.0, 4.0, 4.5, 13.0)] == [
        (2, True),
        (1, True),
        (1, False),
        (1, False),
    ]
    work = [hours("level", 1.0), hours("set_large", 15.0), hours("grout", 4.5)]
    schedule = plan(work, [wait("level", 24.0), wait("setting", 24.0)], TABLE, VALUES)
    assert (schedule.working_days, schedule.days_alone) == (4, 2)
    assert setup_days(schedule, VALUES) == 2 * 2 + 2 * 0.5


def test_a_small_wet_room_is_no_month_of_setting_up() -> None:
    """12.6 m2, old covering out, screed to falls, sealed, flooded, tiled, with skirting (common practice).

    Days: strip out and screed; membrane and bands (6 h); the flood test; two of setting; grout; sealing. The
    flood test, the second of setting, grouting and sealing are a few hours of one: 3 x 2 + 4 x 0.5 days of
    set-up at 0.75 h. All in all two people are there for about a week, with 3 to 4 hours a square metre, of
    which setting up takes less than a sixth.
    """
    room = WET_ROOM
    answer = take_off(Job((room,)), VALUES, LABOUR)
    assert (answer.schedule.visits, answer.schedule.working_days, answer.schedule.days_alone) == (1, 7, 4)
    daily = next(line for line in answer.labour if line.activity == "daily_setup")
    assert (daily.quantity, daily.hours) == (8.0, 6.0)
    assert 3.0 <= answer.labour_hours.total / 12.6 <= 4.0
    assert daily.hours / answer.labour_hours.total < 1 / 6


def test_a_day_filled_exactly_does_not_begin_another() -> None:
    assert plan([hours("set_large", 13.0)], [], TABLE, VALUES).working_days == 1
    assert plan([hours("set_large", 13.01)], [], TABLE, VALUES).working_days == 2


def test_rooms_wait_side_by_side() -> None:
    assert longest_waits([wait("setting", 24.0), wait("grouting", 24.0), wait("setting", 48.0)]) == (
        wait("setting", 48.0),
        wait("grouting", 24.0),
    )


def test_a_wait_after_no_stage_is_a_fault() -> None:
    with pytest.raises(ValueError, match="after lunch"):
        plan([], [wait("lunch", 1.0)], TABLE, VALUES)


def test_no_work_needs_no_visit() -> None:
    assert plan([], [], TABLE, VALUES).visits == 0


def test_every_activity_with_a_rate_has_its_stage() -> None:
    staged = [activity for row in VALUES.table("schedule.stages") for activity in row["activities"]]
    coming = {"mobilise", "daily_setup", "carry_stairs", "carry_distance", "protect"}
    assert len(staged) == len(set(staged))
    assert set(staged) | coming == {rate.activity for rate in LABOUR.rates}


works = st.lists(
    st.builds(hours, st.sampled_from([r.activity for r in RATES]), st.floats(0, 60)), max_size=12
)
waits = st.lists(
    st.builds(wait, st.sampled_from(["level", "setting", "grouting"]), st.floats(0, 72)),
    max_size=6,
)


@given(works, waits)
def test_days_hold_the_hours_and_waits_only_add(work: list[Work], some: list[Wait]) -> None:
    schedule = plan(work, some, TABLE, VALUES)
    at_once = plan(work, [], TABLE, VALUES)
    assert schedule.working_days * 13.0 >= hours_of(work, TABLE) - 1e-6
    assert schedule.working_days >= at_once.working_days
    assert schedule.working_days >= schedule.visits
    assert at_once.visits == (1 if hours_of(work, TABLE) > 0 else 0)
    assert at_once.visits <= schedule.visits <= at_once.visits + len({w.after for w in some})
