"""Day work over HTTP: hours that come on top, in quotes, variations, options, documents and explanations."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from tests.api.conftest import Office
from tests.api.test_quote_life import ACCEPT, JOB, clock, step  # noqa: F401 - a fixture
from tests.quoting.evaluator import rebuilt

RATES = [{"name": "Tiler", "hourly_price": "68.00"}, {"name": "Helper", "hourly_price": "41.35"}]
WORK = [
    {"what": "Mending screed", "rate": "Tiler", "hours": "1.25"},
    {"what": "Taking down a wall", "rate": "Helper", "hours": "3.5"},
]


@pytest.fixture
def rated(demo: Office, clock: Callable[[datetime], None]) -> Office:  # noqa: F811
    """An office whose terms have rates for day work."""
    item = demo.get("/v1/terms").json["items"][0]
    kept = {name: value for name, value in item.items() if name not in ("id", "created_at", "version")}
    changed = demo.put(f"/v1/terms/{item['id']}", {**kept, "day_work": RATES}, If_Match="*")
    assert changed.status_code == 200, changed.text
    return demo


def day_work_in(quote: dict[str, Any]) -> list[dict[str, Any]]:
    return [line for line in quote["lines"] if line["role"] == "day_work"]


def test_day_work_is_in_lines_totals_document_and_explanation(rated: Office) -> None:
    made = rated.post("/v1/quotes", {**JOB, "day_work": WORK})
    assert made.status_code == 201, made.text
    quote, without = made.json, rated.post("/v1/quotes", JOB).json
    lines = day_work_in(quote)
    assert [(line["description"], line["price"], line["note"]) for line in lines] == [
        ("Mending screed", "85.00", "Tiler"),
        ("Taking down a wall", "144.73", "Helper"),
    ]
    assert sum(Decimal(line["price"]) for line in quote["lines"]) == Decimal(quote["totals"]["net"])
    assert Decimal(quote["totals"]["net"]) > Decimal(without["totals"]["net"])
    where = f"/v1/quotes/{quote['id']}"
    assert rated.get(where).json == quote
    shown = rated.get(f"{where}/document?detail=by_line", Accept="text/html").text
    assert "Day work: Mending screed" in shown
    tree = rated.get(f"{where}/explanation").json["tree"]
    assert rebuilt(tree)["/totals/gross"] == Fraction(quote["totals"]["gross"])


def test_options_and_differences_hold_the_day_work(rated: Office) -> None:
    options = [{"name": "No membrane", "changes": {"membrane": None}}]
    made = rated.post("/v1/quotes", {**JOB, "options": options, "day_work": WORK})
    assert len(day_work_in(made.json["options"][0])) == 2
    assert (
        step(rated, made, "revisions", {**JOB, "options": options, "day_work": WORK[:1]}).status_code == 201
    )
    told = rated.get(f"/v1/quotes/{made.json['id']}/revisions/1/difference").json
    assert [part["causes"] for part in told["parts"]] == [["inputs"]], "an hour less is no other price"
    assert Decimal(told["parts"][0]["gross"]) == Decimal(told["total"]["gross"]) < 0


def test_a_variation_of_hours_is_accepted_like_any_quote(rated: Office) -> None:
    made = rated.post("/v1/quotes", JOB)
    assert step(rated, made, "issue").status_code == 200
    assert step(rated, made, "accept", ACCEPT).status_code == 200
    varied = rated.post(
        f"/v1/quotes/{made.json['id']}/variations", {**JOB, "rooms": JOB["rooms"][:1], "day_work": WORK}
    )
    assert varied.status_code == 201, varied.text
    assert step(rated, varied, "issue").status_code == 200
    taken = step(rated, varied, "accept", ACCEPT).json
    assert taken["acceptance"]["gross"] == varied.json["totals"]["gross"]
    assert len(day_work_in(taken)) == 2


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"rate": "Diver"}, "/day_work/0/rate"),
        ({"hours": "0"}, "/day_work/0/hours"),
        ({"hours": 2.5}, "/day_work/0/hours"),
        ({"what": " "}, "/day_work/0/what"),
    ],
)
def test_bad_day_work_is_told_where_it_was_said(rated: Office, change: dict[str, Any], pointer: str) -> None:
    answer = rated.post("/v1/quotes", {**JOB, "day_work": [{**WORK[0], **change}]})
    assert answer.status_code == 422, answer.text
    assert [fault["pointer"] for fault in answer.json["errors"]] == [pointer]


def test_an_option_that_changes_nothing_holds_the_day_work_too(rated: Office) -> None:
    """Its goods and hours are those of the base and are only put on terms again."""
    made = rated.post("/v1/quotes", {**JOB, "options": [{"name": "The same"}], "day_work": WORK})
    assert made.status_code == 201, made.text
    (same,) = made.json["options"]
    assert same["totals"] == made.json["totals"]
    assert day_work_in(same) == day_work_in(made.json)
