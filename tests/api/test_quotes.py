"""Quotes over HTTP: made, stored, numbered, read back, seen by the customer; nothing half-stored."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import Engine, create_engine, event, text

from service.api import examples
from service.demo.seed import ORGANISATION
from service.quoting.recompute import recomputed
from service.quoting.snapshot import from_json, to_json
from service.store import quotes as store
from service.store.engine import sqlalchemy_url
from service.store.session import open_session
from service.takeoff.answer import Takeoff
from tests.api.conftest import Office

CUT_TO_LENGTH = ("edge_profile", "transition_profile", "skirting_profile", "movement_joint_profile")


@pytest.fixture
def stored_rows(database_url: str) -> Callable[[], dict[str, int]]:
    """How many rows the tables of quotes hold, all organisations'."""
    tables = ("quotes", "quote_revisions", "quote_lines", "quote_counters", "customers", "idempotency_keys")

    def count() -> dict[str, int]:
        engine = create_engine(sqlalchemy_url(database_url))
        with engine.connect() as connection:
            found = {table: connection.scalar(text(f"SELECT count(*) FROM {table}")) or 0 for table in tables}  # noqa: S608
        engine.dispose()
        return found

    return count


def test_a_quote_is_made_numbered_and_read_back(demo: Office, job: dict[str, Any]) -> None:
    made = demo.post("/v1/quotes", job, Idempotency_Key="one")
    assert made.status_code == 201, made.text
    quote = made.json
    assert re.fullmatch(r"FF-+20\d\d-0001", quote["number"])
    assert (quote["state"], quote["revision"], quote["currency"]) == ("draft", 1, "USD")
    assert len(quote["rooms"]) == 3
    read = demo.get(made.headers["Location"])
    assert (read.data, read.headers["ETag"]) == (made.data, made.headers["ETag"])
    assert demo.get(made.headers["Location"], If_None_Match=read.headers["ETag"]).status_code == 304

    again = demo.post("/v1/quotes", job, Idempotency_Key="one")
    assert again.data == made.data
    listed = demo.get("/v1/quotes").json["items"]
    assert [item["id"] for item in listed] == [quote["id"]]
    assert listed[0]["gross"] == quote["totals"]["gross"]
    assert demo.get("/v1/quotes?state=issued").json["items"] == []


def test_nothing_is_read_twice_or_back_for_a_quote(
    demo: Office, job: dict[str, Any], live_engine: Engine
) -> None:
    demo.post("/v1/quotes", job)  # which notes that the key is in use
    sent: list[str] = []

    def heard(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        sent.append(statement)

    event.listen(live_engine, "before_cursor_execute", heard)
    try:
        assert demo.post("/v1/quotes", job).status_code == 201
    finally:
        event.remove(live_engine, "before_cursor_execute", heard)
    written = [statement.split()[2] for statement in sent if statement.startswith("INSERT")]
    assert len(written) == len(set(written)), written
    read_back = [s for s in sent if re.search(r"FROM (quotes|quote_\w+|api_keys)\b", s)]
    assert len(read_back) == 1, read_back  # the key, before anything else
    assert len(sent) <= 26, sent  # three of them look up the tiles of the three rooms


def test_the_totals_are_the_exact_sums_of_the_lines(demo: Office, job: dict[str, Any]) -> None:
    quote = demo.post("/v1/quotes", job).json
    totals = {name: Decimal(value) for name, value in quote["totals"].items() if isinstance(value, str)}
    for kind, name in (("material", "materials"), ("delivery", "delivery"), ("labour", "labour")):
        amounts = [Decimal(line["amount"]) for line in quote["lines"] if line["kind"] == kind]
        assert sum(amounts) == totals[name]
    cost = totals["materials"] + totals["delivery"] + totals["labour"]
    net = cost + totals["contingency"] + totals["markup"] - totals["discount"] + totals["rounding"]
    assert net == totals["net"]
    assert sum(Decimal(line["price"]) for line in quote["lines"]) == totals["net"]
    assert totals["net"] + totals["tax"] == totals["gross"]
    assert sum(Decimal(tax["amount"]) for tax in quote["totals"]["taxes"]) == totals["tax"]


def test_sticks_and_rolls_of_the_demo_are_proven_to_be_the_cheapest(
    demo: Office, job: dict[str, Any]
) -> None:
    lines = demo.post("/v1/quotes", job).json["lines"]
    cut = {line["role"]: line["cutting"] for line in lines if line["cutting"]}
    assert {"membrane", "transition_profile"} <= set(cut) <= {"membrane", *CUT_TO_LENGTH}
    assert {each["gap"] for each in cut.values()} == {"0.00"}
    assert all(each["cost"] == each["bound"] for each in cut.values())
    sums = {role: sum(Decimal(x["amount"]) for x in lines if x["role"] == role) for role in cut}
    assert sums["membrane"] == Decimal(cut["membrane"]["cost"])


def test_the_customer_sees_no_cost_and_no_supplier(demo: Office, job: dict[str, Any]) -> None:
    made = demo.post("/v1/quotes", job)
    view = demo.get(f"{made.headers['Location']}?view=customer")
    assert view.status_code == 200
    shown = view.json
    for line in shown["lines"]:
        assert line.keys() == {
            "kind",
            "role",
            "description",
            "unit",
            "quantity",
            "price",
            "allowance",
            "rooms",
        }
    assert shown["totals"].keys() == {
        "discount", "net", "tax", "taxes", "gross", "deposit", "stages", "retention"
    }  # fmt: skip
    assert not shown.keys() & {"materials", "labour", "labour_hours", "versions"}
    for supplier in demo.get("/v1/suppliers").json["items"]:
        assert supplier["name"] not in view.text
        assert supplier["id"] not in view.text
    assert shown["totals"]["gross"] == made.json["totals"]["gross"]
    assert demo.get(f"{made.headers['Location']}?view=rival").status_code == 422


def test_each_room_of_a_quote_has_its_plan(demo: Office, job: dict[str, Any]) -> None:
    where = demo.post("/v1/quotes", job).headers["Location"]
    plan = demo.get(f"{where}/plan?room=1")
    assert (plan.status_code, plan.mimetype) == (200, "image/svg+xml")
    assert demo.get(f"{where}/plan?room=3").status_code == 422
    assert demo.get(f"{where}/plan", If_None_Match=plan.headers["ETag"]).status_code == 304


def test_a_role_that_nobody_sells_on_the_day_is_named(
    demo: Office, job: dict[str, Any], stored_rows: Callable[[], dict[str, int]]
) -> None:
    for item in demo.get("/v1/products?role=primer&limit=200").json["items"]:
        assert demo.delete(f"/v1/products/{item['id']}", If_Match="*").status_code == 204
    for item in demo.get("/v1/products?role=sealant&limit=200").json["items"]:
        assert demo.delete(f"/v1/products/{item['id']}", If_Match="*").status_code == 204
    before = stored_rows()
    answer = demo.post("/v1/quotes", job, Idempotency_Key="one")
    assert (answer.status_code, answer.json["type"]) == (422, "/problems/unpriceable"), answer.text
    assert "sealant" in answer.json["detail"]
    assert all(fault["pointer"].startswith("/rooms") for fault in answer.json["errors"])
    assert stored_rows() == before


@pytest.mark.parametrize(
    ("change", "status", "pointer"),
    [
        ({"terms_id": examples.SOME_ID}, 422, "/terms_id"),
        ({"customer": None, "customer_id": examples.SOME_ID}, 422, "/customer_id"),
        ({"customer_id": examples.SOME_ID}, 422, "/customer_id"),
        ({"customer": {"name": ""}}, 422, "/customer/name"),
        ({"price_date": "2026-02-30"}, 422, "/price_date"),
        ({"valid_days": 0}, 422, "/valid_days"),
        ({"rooms": []}, 422, "/rooms"),
    ],
)
def test_a_refused_quote_leaves_nothing(
    demo: Office,
    job: dict[str, Any],
    stored_rows: Callable[[], dict[str, int]],
    change: dict[str, Any],
    status: int,
    pointer: str,
) -> None:
    before = stored_rows()
    body = {name: value for name, value in {**job, **change}.items() if value is not None}
    answer = demo.post("/v1/quotes", body, Idempotency_Key="one")
    assert answer.status_code == status, answer.text
    assert answer.json["errors"][0]["pointer"] == pointer
    assert stored_rows() == before


def test_a_failure_after_the_quote_was_written_leaves_nothing(
    demo: Office,
    job: dict[str, Any],
    stored_rows: Callable[[], dict[str, int]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("after the work, before the commit")

    before = stored_rows()
    monkeypatch.setattr("service.quoting.keys.note_use", fail)
    assert demo.post("/v1/quotes", job, Idempotency_Key="one").status_code == 500
    assert stored_rows() == before


def test_a_day_before_the_first_trade_values_is_named(demo: Office, job: dict[str, Any]) -> None:
    answer = demo.post("/v1/quotes", {**job, "price_date": "2025-12-31"})
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/price_date"), answer.text


def test_a_quote_tells_which_rates_and_terms_it_came_from(demo: Office, job: dict[str, Any]) -> None:
    before = demo.post("/v1/quotes", job)
    item = demo.get("/v1/labour-rates").json["items"][0]
    where = f"/v1/labour-rates/{item['id']}"
    table = demo.get(where)
    writable = (
        "name",
        "valid_from",
        "crew",
        "productive_hours_per_day",
        "minimum_hours",
        "currency",
        "rates",
    )
    body = {name: table.json[name] for name in writable} | {"hourly_cost": "90.00"}
    assert demo.put(where, body, If_Match=table.headers["ETag"]).status_code == 200
    after = demo.post("/v1/quotes", job).json
    assert after["versions"]["labour_table"] != before.json["versions"]["labour_table"]
    assert after["versions"]["terms"] == before.json["versions"]["terms"]
    assert Decimal(after["totals"]["labour"]) == 2 * Decimal(before.json["totals"]["labour"])
    assert demo.get(before.headers["Location"]).json == before.json


def test_a_stored_quote_is_taken_off_again_to_the_same_figures(
    demo: Office, job: dict[str, Any], live_engine: Engine
) -> None:
    """With own values edited since: the quote keeps what it was made of."""
    quote = demo.post("/v1/quotes", job).json
    assert demo.put("/v1/trade-values/mortar.loss", {"value": 0.2}, If_Match="*").status_code == 200
    with open_session(live_engine, ORGANISATION) as session:
        revision = store.find_revision(session, UUID(quote["id"]), 1)
        assert revision is not None
        again = recomputed(from_json(revision.takeoff, Takeoff), revision.basis)
        assert json.loads(json.dumps(to_json(again))) == revision.takeoff
    other = demo.post("/v1/quotes", job).json
    assert other["materials"] != quote["materials"]


def test_another_organisation_sees_no_quote(
    demo: Office, job: dict[str, Any], new_office: Callable[..., Office]
) -> None:
    where = demo.post("/v1/quotes", job).headers["Location"]
    other = new_office("quotes")
    assert other.get(where).status_code == 404
    assert other.get(f"{where}/plan").status_code == 404
    assert other.get("/v1/quotes").json["items"] == []
    foreign = demo.get("/v1/products?role=tile").json["items"][0]["id"]
    answer = other.post(
        "/v1/takeoffs", {"rooms": [{"area_m2": 3, "perimeter": 7000, "tile": {"product": foreign}}]}
    )
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/rooms/0/tile/product")
