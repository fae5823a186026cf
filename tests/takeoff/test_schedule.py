"""Visits and working days, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff.answer import Wait, Work
from service.takeoff.labour import hours_of
from service.takeoff.rates import LabourRate
from service.takeoff.schedule import Stage, longest_waits, plan, visit_hours
from tests.takeoff.rooms import LABOUR, VALUES

RATES = tuple(LabourRate(name, "fixed", "job", 1.0) for name in ("mobilise", "level", "set_large", "grout"))
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
    schedule = plan(work, [wait("level", 24.0), wait("setting", 24.0)], TABLE, VALUES)
    assert (schedule.visits, schedule.working_days, schedule.crew) == (3, 4, 2)
    assert [w.after for w in schedule.waits] == ["level", "setting"]


def test_a_night_is_no_visit_but_a_day() -> None:
    # The same with 12 h after levelling: the crew stays on the job, still 1 + 2 + 1 days, in 2 visits.
    work = [hours("mobilise", 2.0), hours("level", 1.0), hours("set_large", 20.0), hours("grout", 2.0)]
    schedule = plan(work, [wait("level", 12.0), wait("setting", 24.0)], TABLE, VALUES)
    assert (schedule.visits, schedule.working_days) == (2, 4)


def test_every_visit_is_a_day_at_least() -> None:
    schedule = plan([hours("set_large", 6.5), hours("grout", 1.0)], [wait("setting", 24.0)], TABLE, VALUES)
    assert (schedule.visits, schedule.working_days) == (2, 2)


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
