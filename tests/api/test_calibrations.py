"""Booked hours in, a proposal out, and a labour table once it is accepted. The jobs are invented."""

from __future__ import annotations

from typing import Any

import pytest

from service.api import examples
from tests.api.conftest import Office
from tests.api.test_crews import second_crew, tables

WHERE = "/v1/labour-rates/calibrations"
TRUE = {"lay_membrane": 0.2, "set_large": 0.5, "cut_straight": 0.05}
"""The rates that the invented crew works at; the demo's own begin at 0.166667, 0.42 and 0.033333."""


def finished(number: int, factor: float = 1.0) -> dict[str, Any]:
    area, cuts = 8.0 + 3 * (number % 5), 10.0 + 7 * (number % 4)
    quantities = {"lay_membrane": area + number % 3, "set_large": area, "cut_straight": cuts}
    hours = sum(TRUE[name] * amount for name, amount in quantities.items())
    return {"job": f"Job {number}", "quantities": quantities, "hours": hours * factor}


JOBS = [finished(number, 3.0 if number == 7 else 1.0) for number in range(14)]


def proposed(demo: Office, **more: Any) -> dict[str, Any]:
    answer = demo.post(WHERE, {"jobs": JOBS, **more})
    assert answer.status_code == 201, answer.text
    assert answer.headers["ETag"] == '"v1"'
    return dict(answer.json)


def rates_of(table: dict[str, Any]) -> dict[str, float]:
    return {rate["activity"]: float(rate["hours"]) for rate in table["rates"]}


def test_a_proposal_tells_rates_and_jobs_and_changes_nothing(demo: Office) -> None:
    before = demo.get("/v1/labour-rates").json
    found = proposed(demo)
    by_activity = {rate["activity"]: rate for rate in found["rates"]}
    for activity, hours in TRUE.items():
        rate = by_activity[activity]
        assert rate["fitted_hours"] == pytest.approx(hours, abs=1e-5)
        assert rate["low_hours"] <= rate["fitted_hours"] <= rate["high_hours"]
        assert (rate["status"], rate["jobs"]) == ("fitted", 14)
    assert by_activity["band"]["status"] == "not_seen"
    assert [job["job"] for job in found["jobs"] if not job["fits"]] == ["Job 7"]
    assert found["mean_deviation_fitted_percent"] < found["mean_deviation_present_percent"]
    assert demo.get("/v1/labour-rates").json == before
    assert demo.get(f"{WHERE}/{found['id']}").json == found
    (listed,) = demo.get(WHERE).json["items"]
    assert (listed["id"], listed["state"], "rates" in listed) == (found["id"], "proposed", False)


def test_accepting_makes_a_dated_table_and_no_more(demo: Office) -> None:
    found, usual = proposed(demo), tables(demo)
    old = demo.post("/v1/quotes", examples.QUOTE).json
    order = {"valid_from": "2030-01-01", "keep": ["cut_straight"]}
    accepted = demo.post(f"{WHERE}/{found['id']}/accept", order, If_Match='"v1"')
    assert (accepted.status_code, accepted.headers["ETag"]) == (200, '"v2"'), accepted.text
    assert accepted.json["state"] == "accepted"
    table = demo.get(f"/v1/labour-rates/{accepted.json['accepted_table_id']}").json
    assert (table["valid_from"], table["crew"], table["hourly_cost"]) == (
        "2030-01-01",
        2,
        usual["hourly_cost"],
    )
    fitted = {"lay_membrane": 0.2, "set_large": 0.5}
    assert rates_of(table) == pytest.approx(rates_of(usual) | fitted, abs=2e-6)
    assert demo.post("/v1/quotes", examples.QUOTE).json["totals"] == old["totals"], "today's rates still hold"
    noted = demo.get("/v1/audit?subject=labour_calibration").json["items"]
    assert [entry["action"] for entry in noted] == ["accepted", "created"]


def test_what_cannot_be_accepted(demo: Office) -> None:
    found = proposed(demo)
    where = f"{WHERE}/{found['id']}/accept"
    for order, pointer in (
        ({"valid_from": "2020-01-01"}, "/valid_from"),
        ({"valid_from": "2030-01-01", "keep": ["grout", "luck"]}, "/keep/1"),
    ):
        answer = demo.post(where, order, If_Match="*")
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)
    order = {"valid_from": "2030-01-01"}
    assert demo.post(where, order, If_Match='"v9"').status_code == 412
    assert demo.post(where, order, If_Match='"v1"').status_code == 200
    assert demo.post(where, order, If_Match="*").status_code == 409
    assert len(demo.get("/v1/labour-rates").json["items"]) == 2


def test_rates_that_were_edited_since_are_not_overwritten(demo: Office) -> None:
    found, usual = proposed(demo), tables(demo)
    body = {name: value for name, value in usual.items() if name not in {"id", "created_at"}}
    body["rates"] = [{**rate, "hours": "0.9"} for rate in usual["rates"]]
    assert demo.put(f"/v1/labour-rates/{usual['id']}", body, If_Match="*").status_code == 200
    answer = demo.post(f"{WHERE}/{found['id']}/accept", {"valid_from": "2030-01-01"}, If_Match="*")
    assert answer.status_code == 409


def test_a_crew_is_calibrated_by_itself(demo: Office) -> None:
    crew = second_crew(demo, hourly_charge="70.00")
    found = proposed(demo, crew="Evening crew")
    assert found["labour_table_id"] == crew["id"]
    answer = demo.post(f"{WHERE}/{found['id']}/accept", {"valid_from": "2030-01-01"}, If_Match="*")
    table = demo.get(f"/v1/labour-rates/{answer.json['accepted_table_id']}").json
    assert (table["crew_name"], table["crew"], table["hourly_charge"]) == ("Evening crew", 3, "70.00")


def test_a_quote_gives_the_quantities_of_its_take_off(demo: Office) -> None:
    """Five jobs like the quote, each booked at 1.2 times its hours: no job tells its activities apart, so the
    whole table is raised by a fifth."""
    quote = demo.post("/v1/quotes", examples.QUOTE).json
    total = sum(line["hours"] for line in quote["labour"])
    jobs = [{"job": f"{n}", "quote_id": quote["id"], "hours": 1.2 * total} for n in range(5)]
    found = demo.post(WHERE, {"jobs": jobs}).json
    moved = [rate for rate in found["rates"] if rate["status"] == "together"]
    assert {rate["activity"] for rate in moved} == {
        line["activity"] for line in quote["labour"] if line["activity"] != "minimum_callout"
    }
    for rate in moved:
        # the hours of each line are rounded to the hundredth, the fit is not
        assert rate["fitted_hours"] == pytest.approx(1.2 * rate["present_hours"], rel=2e-3)
    assert found["jobs"][0]["present_hours"] == pytest.approx(total, rel=2e-3)


@pytest.mark.parametrize(
    ("job", "pointer"),
    [
        ({"job": "a", "quantities": {"luck": 3}, "hours": 2}, "/jobs/0/quantities/luck"),
        ({"job": "a", "quantities": {"grout": -1}, "hours": 2}, "/jobs/0/quantities/grout"),
        ({"job": "a", "quantities": {"grout": 9}, "hours": 0}, "/jobs/0/hours"),
        ({"job": "a", "quantities": {"grout": 9}}, "/jobs/0/hours"),
        ({"job": "a", "hours": 2}, "/jobs/0/quote_id"),
        ({"job": "a", "quote_id": examples.SOME_ID, "hours": 2}, "/jobs/0/quote_id"),
        (
            {"job": "a", "quantities": {"grout": 9}, "hours_by_activity": {"band": 1}},
            "/jobs/0/hours_by_activity/band",
        ),
    ],
)
def test_a_wrong_job_is_told_by_its_pointer(demo: Office, job: dict[str, Any], pointer: str) -> None:
    answer = demo.post(WHERE, {"jobs": [job]})
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)
    assert demo.get(WHERE).json["items"] == []


def test_the_published_example_works(demo: Office) -> None:
    answer = demo.post(WHERE, examples.CALIBRATION)
    assert answer.status_code == 201, answer.text
    where = f"{answer.headers['Location']}/accept"
    assert demo.post(where, examples.CALIBRATION_ACCEPTANCE, If_Match="*").status_code == 200


def test_another_office_sees_nothing_of_it(demo: Office, office: Office) -> None:
    found = proposed(demo)
    assert office.get(f"{WHERE}/{found['id']}").status_code == 404
    assert office.get(WHERE).json["items"] == []


def test_more_bookings_than_a_request_may_take(demo: Office) -> None:
    booked = {f"activity {number}": 1.0 for number in range(250)}
    jobs = [{"job": f"{n}", "quantities": booked, "hours_by_activity": booked} for n in range(9)]
    answer = demo.post(WHERE, {"jobs": jobs})
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/jobs")
