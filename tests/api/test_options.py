"""Options of a quote over HTTP: each as a quote of its own would be, kept, compared, accepted."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest
from werkzeug.test import TestResponse

from tests.api.conftest import Office
from tests.api.test_quote_life import ACCEPT, JOB, assert_explained, clock, step  # noqa: F401 - a fixture, assert_explained

WEAK = {"substrate": {"kind": "plywood_on_joists", "deflection": 120}}
OPTIONS: list[dict[str, Any]] = [
    {"name": "Small tile", "changes": {"tile": {"length": 150, "width": 150}}, "note": "As in the hall now"},
    {"name": "No membrane", "changes": {"membrane": None}, "rooms": [1]},
    {"name": "Weak", "changes": WEAK},
]
FIGURES = ("totals", "lines")


def changed(option: dict[str, Any]) -> dict[str, Any]:
    """The job that the option makes, changed by hand."""
    chosen = option.get("rooms", range(len(JOB["rooms"])))
    rooms = [{**room, **option["changes"]} if n in chosen else room for n, room in enumerate(JOB["rooms"])]
    return {**JOB, "rooms": rooms}


@pytest.fixture
def made(demo: Office, clock: Callable[[datetime], None]) -> TestResponse:  # noqa: F811
    answer = demo.post("/v1/quotes", {**JOB, "options": OPTIONS})
    assert answer.status_code == 201, answer.text
    return answer


def test_an_option_costs_what_a_quote_of_its_own_costs(demo: Office, made: TestResponse) -> None:
    """The independent way: the changed rooms posted as quotes."""
    quote = made.json
    assert {name: quote[name] for name in FIGURES} == {
        name: demo.post("/v1/quotes", JOB).json[name] for name in FIGURES
    }
    small, bare, weak = quote["options"]
    for option, asked in ((small, OPTIONS[0]), (bare, OPTIONS[1])):
        alone = demo.post("/v1/quotes", changed(asked)).json
        assert {name: option[name] for name in FIGURES} == {name: alone[name] for name in FIGURES}
        moved = Decimal(alone["totals"]["gross"]) - Decimal(quote["totals"]["gross"])
        assert (
            Decimal(option["difference"]["gross"])
            == moved
            == sum(map(Decimal, option["difference"]["causes"].values()))
        )
    assert (small["note"], small["changes"], bare["rooms"]) == (
        OPTIONS[0]["note"],
        OPTIONS[0]["changes"],
        [1],
    )
    assert weak["refused"]
    assert weak["totals"] is weak["difference"] is None
    assert any(found["verdict"] == "refuse" for found in weak["findings"])
    assert demo.get(f"/v1/quotes/{quote['id']}").json == quote


def test_a_customer_sees_no_cost_of_an_option(demo: Office, made: TestResponse) -> None:
    shown = demo.get(f"/v1/quotes/{made.json['id']}?view=customer").json["options"]
    assert [option["totals"] and option["totals"]["gross"] for option in shown] == [
        option["totals"] and option["totals"]["gross"] for option in made.json["options"]
    ]
    assert set(shown[0]["difference"]) == {"net", "gross"}
    for option in shown:
        assert not option.keys() & {"groups", "labour_hours"}
        assert not {name for line in option["lines"] for name in line} & {"cost", "amount", "supplier"}
        assert not (option["totals"] or {}).keys() & {"materials", "markup"}


@pytest.mark.parametrize(
    ("option", "pointers"),
    [
        ({"changes": {"tile": {"length": -1}}}, {"/options/1/changes/tile/length"}),
        ({"changes": {"joint": 99}}, {"/options/1/changes/joint"}),
        ({"changes": {"joint": 40}}, {"/options/1"}),
        ({"changes": {"colour": "red"}}, {"/options/1/changes/colour"}),
        ({"rooms": [2]}, {"/options/1/rooms/0"}),
        ({"name": "First"}, {"/options/1/name"}),
        ({"terms_id": "x"}, {"/options/1/terms_id"}),
    ],
)
def test_a_bad_option_is_told_where_it_was_said(
    demo: Office, option: dict[str, Any], pointers: set[str]
) -> None:
    options = [{"name": "First"}, {"name": "Second", **option}]
    answer = demo.post("/v1/quotes", {**JOB, "options": options})
    assert answer.status_code == 422, answer.text
    assert {fault["pointer"] for fault in answer.json["errors"]} == pointers
    assert demo.get("/v1/quotes").json["items"] == []


def test_an_option_is_accepted_in_place_of_the_offer(demo: Office, made: TestResponse) -> None:
    where = f"/v1/quotes/{made.json['id']}"
    refusal = step(demo, made, "issue")
    wanted = [fault["detail"] for fault in refusal.json.get("errors", ())]
    if refusal.status_code == 409:
        assert step(demo, made, "issue", {"accept_assumptions": wanted}).status_code == 200

    def accepted(*names: str, **more: Any) -> TestResponse:
        return step(demo, made, "accept", {**ACCEPT, "scope": {"options": list(names), **more}})

    for names, status, pointer in (
        (["Large tile"], 422, "/scope/options/0"),
        (["Small tile", "No membrane"], 422, "/scope/options/1"),
        (["Weak"], 409, None),
    ):
        answer = accepted(*names)
        assert answer.status_code == status, answer.text
        assert pointer is None or answer.json["errors"][0]["pointer"] == pointer
    assert accepted("Small tile", rooms=["Hall"]).status_code == 422
    base_order = demo.get(f"{where}/purchase-list").json
    taken = accepted("Small tile")
    assert taken.status_code == 200, taken.text
    told, option = taken.json["acceptance"], taken.json["options"][0]
    assert told["options"] == ["Small tile"]
    assert {name: told[name] for name in ("net", "tax", "gross")} == {
        name: option["totals"][name] for name in ("net", "tax", "gross")
    }
    assert_explained(demo, taken.json)
    events = demo.get(f"{where}/revisions").json["items"][0]["events"]
    assert events[-1]["scope"]["gross"] == option["totals"]["gross"]
    order = demo.get(f"{where}/purchase-list").json
    bought = {line["description"] for each in order["orders"] for line in each["lines"]}
    assert order != base_order
    assert bought == {line["description"] for line in option["lines"] if line["supplier"] and line["packs"]}
    shown = demo.get(f"{where}/document", Accept="text/html").text
    assert "The option Small tile was taken" in shown
    base, total = (Decimal(each["totals"]["gross"]) for each in (taken.json, option))
    assert f"{total:,.2f}" in shown
    assert f"{base:,.2f}" not in shown, "nor the offer's total, nor a difference to it"


def test_revisions_differ_by_their_options(demo: Office, made: TestResponse) -> None:
    fewer = [OPTIONS[0], {**OPTIONS[1], "rooms": [0]}]
    patch = demo.client.post(
        f"/v1/quotes/{made.json['id']}/revisions",
        json={"options": fewer},
        headers={
            "Authorization": f"Bearer {demo.key}",
            "If-Match": "*",
            "Content-Type": "application/merge-patch+json",
        },
    )
    assert patch.status_code == 201, patch.text
    moved = demo.get(f"/v1/quotes/{made.json['id']}/revisions/1/difference").json
    assert Decimal(moved["total"]["gross"]) == 0
    assert [option["name"] for option in moved["options"]] == ["No membrane", "Weak"]
    held = moved["options"][0]
    assert held["after"]["gross"] == patch.json["options"][1]["totals"]["gross"] != held["before"]["gross"]


def test_an_option_is_explained_as_a_quote_is(demo: Office, made: TestResponse) -> None:
    where = f"/v1/quotes/{made.json['id']}/explanation"
    told = demo.get(f"{where}?option=Small%20tile").json
    assert Decimal(told["tree"]["value"]) == Decimal(made.json["options"][0]["totals"]["gross"])
    assert demo.get(f"{where}?option=Other").status_code == 422
