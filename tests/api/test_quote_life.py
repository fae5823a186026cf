"""A quote's life over HTTP: issued, accepted, declined, withdrawn, revised; the offer stands meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from service.api import examples
from service.api.framework.context import Parts
from tests.api.conftest import Office
from tests.quoting.evaluator import nodes, rebuilt

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
FLOOR = {
    "tile": {"length": 300, "width": 300, "thickness": 9, "material": "porcelain"},
    "substrate": {"kind": "concrete_suspended", "flatness": {"gap": 2, "under": 3000}, "age_days": 200},
}
ACCEPT = {"revision": 1, "accepted_by": "A. Customer", "reference": "PO 1"}
JOB: dict[str, Any] = {
    "rooms": [
        {"name": "Hall", "rectangle": {"length": 3000, "width": 2000}, **FLOOR},
        {"name": "Bath", "rectangle": {"length": 2000, "width": 2000}, **FLOOR},
    ],
    "valid_days": 10,
}


@pytest.fixture
def clock(app: Flask) -> Callable[[datetime], None]:
    """Sets the application's clock."""

    def set_to(moment: datetime) -> None:
        parts: Parts = app.extensions["parts"]
        app.extensions["parts"] = replace(parts, now=lambda: moment)

    set_to(NOW)
    return set_to


def step(office: Office, made: TestResponse, name: str, body: Any = None, **headers: str) -> TestResponse:
    """One step in the quote's life, from the version that it is at."""
    where = f"/v1/quotes/{made.json['id']}"
    tag = office.get(where).headers["ETag"]
    return office.post(f"{where}/{name}", body or {}, **{"If_Match": tag, **headers})


@pytest.fixture
def issued(demo: Office, clock: object) -> TestResponse:
    made = demo.post("/v1/quotes", JOB)
    assert made.status_code == 201, made.text
    answer = step(demo, made, "issue")
    assert answer.status_code == 200, answer.text
    return answer


def test_issue_counts_validity_from_the_offices_day(demo: Office, clock: Callable[[datetime], None]) -> None:
    made = demo.post("/v1/quotes", JOB)
    clock(NOW + timedelta(days=3))
    offer = step(demo, made, "issue").json
    assert (offer["state"], offer["revision"], offer["offered_revision"]) == ("issued", 1, 1)
    assert offer["valid_until"] == "2026-06-14"
    assert offer["totals"] == made.json["totals"]
    assert step(demo, made, "issue").status_code == 409


def test_acceptance_names_revision_who_when_and_reference(demo: Office, issued: TestResponse) -> None:
    answer = step(demo, issued, "accept", ACCEPT)
    assert answer.status_code == 200, answer.text
    quote = answer.json
    assert quote["state"] == "accepted"
    told = quote["acceptance"]
    assert (told["accepted_by"], told["reference"], told["whole"]) == ("A. Customer", "PO 1", True)
    assert datetime.fromisoformat(told["accepted_at"]) == NOW
    assert told["gross"] == quote["totals"]["gross"]
    for after in ("accept", "decline", "withdraw", "issue"):
        body = ACCEPT if after == "accept" else {} if after == "issue" else {"reason": "late"}
        assert step(demo, issued, after, body).status_code == 409
    assert step(demo, issued, "revisions", JOB).status_code == 409


@pytest.mark.parametrize(
    ("change", "status", "pointer"),
    [
        ({"accepted_at": "2026-06-01T13:00:00Z"}, 422, "/accepted_at"),
        ({"accepted_at": "2026-05-31T13:00:00Z"}, 422, "/accepted_at"),
        ({"accepted_at": "2026-06-01T12:00:00"}, 422, "/accepted_at"),
        ({"revision": 2}, 404, None),
        ({"revision": 0}, 422, "/revision"),
        ({"accepted_by": " "}, 422, "/accepted_by"),
        ({"scope": {"rooms": ["Attic"]}}, 422, "/scope/rooms/0"),
        ({"scope": {"rooms": ["Hall", 2]}}, 422, "/scope/rooms/1"),
        ({"scope": {"options": ["Dearer tile"]}}, 422, "/scope/options/0"),
        ({"scope": {}}, 422, "/scope/rooms"),
    ],
)
def test_an_acceptance_that_cannot_be_is_refused_and_the_offer_stands(
    demo: Office, issued: TestResponse, change: dict[str, Any], status: int, pointer: str | None
) -> None:
    answer = step(demo, issued, "accept", {**ACCEPT, **change})
    assert answer.status_code == status, answer.text
    assert pointer is None or answer.json["errors"][0]["pointer"] == pointer
    assert demo.get(f"/v1/quotes/{issued.json['id']}").json == issued.json


def test_the_last_day_counts_and_the_next_does_not(
    demo: Office, clock: Callable[[datetime], None], issued: TestResponse
) -> None:
    clock(datetime(2026, 6, 12, 12, 0, tzinfo=UTC))
    late = step(demo, issued, "accept", ACCEPT)
    assert (late.status_code, late.json["type"]) == (409, "/problems/state-conflict")
    clock(datetime(2026, 6, 11, 12, 0, tzinfo=UTC))
    assert step(demo, issued, "accept", ACCEPT).status_code == 200


def test_a_draft_beside_the_offer_never_weakens_it(demo: Office, issued: TestResponse) -> None:
    where = f"/v1/quotes/{issued.json['id']}"
    other = {**JOB, "rooms": JOB["rooms"][:1]}
    draft = step(demo, issued, "revisions", other)
    assert (draft.status_code, draft.json["state"], draft.json["revision"]) == (201, "draft", 2), draft.text
    standing = demo.get(where).json
    assert standing == {**issued.json, "current_revision": 2, "draft_revision": 2}
    assert demo.get(draft.headers["Location"]).json == draft.json
    listed = demo.get("/v1/quotes").json["items"][0]
    assert (listed["revision"], listed["state"], listed["gross"]) == (
        1,
        "issued",
        standing["totals"]["gross"],
    )
    assert listed["draft_revision"] == 2
    assert step(demo, issued, "withdraw", {"reason": "no", "revision": 2}).status_code == 200
    told = [demo.get(where).json, demo.get("/v1/quotes").json["items"][0]]
    assert [(quote["draft_revision"], quote["state"]) for quote in told] == [(None, "issued")] * 2
    assert step(demo, issued, "accept", ACCEPT).status_code == 200


def test_issuing_the_draft_supersedes_the_offer(demo: Office, issued: TestResponse) -> None:
    assert step(demo, issued, "revisions", {**JOB, "rooms": JOB["rooms"][:1]}).status_code == 201
    assert step(demo, issued, "issue", {"revision": 2}).json["revision"] == 2
    assert step(demo, issued, "accept", ACCEPT).status_code == 409
    assert step(demo, issued, "accept", {**ACCEPT, "revision": 2}).status_code == 200
    told = demo.get(f"/v1/quotes/{issued.json['id']}/revisions").json["items"]
    assert [(item["revision"], item["state"]) for item in told] == [(1, "superseded"), (2, "accepted")]
    assert [event["kind"] for event in told[0]["events"]] == ["draft", "issued", "superseded"]
    assert demo.get(f"/v1/quotes/{issued.json['id']}/revisions/1").json["totals"] == issued.json["totals"]


@pytest.mark.parametrize(("name", "state"), [("decline", "declined"), ("withdraw", "withdrawn")])
def test_an_offer_that_ended_can_be_followed_by_a_new_draft(
    demo: Office, issued: TestResponse, name: str, state: str
) -> None:
    ended = step(demo, issued, name, {"reason": "too dear"})
    assert (ended.status_code, ended.json["state"]) == (200, state)
    assert step(demo, issued, "accept", ACCEPT).status_code == 409
    draft = patch(demo, issued, {"valid_days": 5})
    assert (draft.status_code, draft.json["state"]) == (201, "draft"), draft.text
    assert demo.get(f"/v1/quotes/{issued.json['id']}").json["revision"] == 2
    assert step(demo, issued, "issue").json["valid_until"] == "2026-06-06"


def patch(office: Office, made: TestResponse, change: Any) -> TestResponse:
    return step(office, made, "revisions", change, Content_Type="application/merge-patch+json")


def test_a_merge_patch_goes_onto_the_last_request(demo: Office, clock: object) -> None:
    made = demo.post("/v1/quotes", {**JOB, "customer": {"name": "A. Customer", "phone": "1"}})
    longer = patch(demo, made, {"valid_days": 20, "price_date": "2026-05-01"}).json
    assert (longer["valid_until"], longer["price_date"]) == ("2026-06-21", "2026-05-01")
    assert longer["customer"] == made.json["customer"]
    back = patch(demo, made, {"price_date": None, "customer": {"name": "Another"}}).json
    assert (back["price_date"], back["customer"]["name"], back["valid_until"]) == (
        "2026-06-01", "Another", "2026-06-21",
    )  # fmt: skip
    wrong = patch(demo, made, {"rooms": []})
    assert (wrong.status_code, wrong.json["errors"][0]["pointer"]) == (422, "/rooms")
    assert patch(demo, made, [1]).status_code == 422


def test_a_floor_that_must_not_be_built_so_cannot_be_issued(demo: Office, clock: object) -> None:
    substrate = {"kind": "concrete_on_ground", "moisture": {"method": "rh", "value": 99}, "age_days": 90}
    made = demo.post("/v1/quotes", {"rooms": [{**JOB["rooms"][0], "substrate": substrate}]})
    assert made.json["totals"] is None
    refused = step(demo, made, "issue")
    assert (refused.status_code, refused.json["type"]) == (409, "/problems/state-conflict")


def test_what_must_be_accepted_is_named_before_the_issue(demo: Office, clock: object) -> None:
    room = {name: value for name, value in JOB["rooms"][0].items() if name != "substrate"}
    made = demo.post("/v1/quotes", {"rooms": [room]})
    refused = step(demo, made, "issue")
    assert (refused.status_code, refused.json["type"]) == (409, "/problems/assumptions-to-accept")
    wanted = [fault["detail"] for fault in refused.json["errors"]]
    assert wanted
    assert all(text.startswith("Hall: ") for text in wanted)
    other = step(demo, made, "issue", {"accept_assumptions": [*wanted, "Hall: anything"]})
    assert (other.status_code, other.json["errors"][0]["pointer"]) == (
        422,
        f"/accept_assumptions/{len(wanted)}",
    )
    assert step(demo, made, "issue", {"accept_assumptions": wanted}).status_code == 200


def test_changes_want_the_version_that_was_read(demo: Office, issued: TestResponse) -> None:
    where = f"/v1/quotes/{issued.json['id']}/decline"
    assert demo.post(where, {"reason": "no"}).status_code == 428
    assert demo.post(where, {"reason": "no"}, If_Match='"v1"').status_code == 412
    assert demo.post(where, {"reason": "no"}, If_Match=issued.headers["ETag"]).status_code == 200


def test_a_step_sent_twice_is_taken_once(demo: Office, issued: TestResponse) -> None:
    where = f"/v1/quotes/{issued.json['id']}/accept"
    sent = {"If_Match": issued.headers["ETag"], "Idempotency_Key": "one"}
    first = demo.post(where, ACCEPT, **sent)
    assert first.status_code == 200
    again = demo.post(where, ACCEPT, **sent)
    assert (again.data, again.headers["Idempotency-Replayed"]) == (first.data, "true")
    assert demo.post(where, {**ACCEPT, "reference": "PO 2"}, **sent).status_code == 422


def test_return_minimal_leaves_the_body_out(demo: Office, clock: object) -> None:
    made = demo.post("/v1/quotes", JOB, Prefer="return=minimal", Idempotency_Key="one")
    assert (made.status_code, made.data) == (201, b"")
    assert made.headers["Preference-Applied"] == "return=minimal"
    where = made.headers["Location"]
    full = demo.post("/v1/quotes", JOB, Idempotency_Key="one")
    assert full.json == demo.get(where).json
    sent = {"If_Match": made.headers["ETag"], "Prefer": 'respond-async, return="minimal"; x=1'}
    short = demo.post(f"{where}/issue", {}, **sent)
    assert (short.status_code, short.data) == (204, b"")
    assert short.headers["ETag"] == demo.get(where).headers["ETag"]


def assert_explained(office: Office, quote: dict[str, Any]) -> None:
    """Every figure of what was accepted follows from its explanation alone, down to what was said."""
    where, told = f"/v1/quotes/{quote['id']}/explanation", quote["acceptance"]
    said = {f"/acceptance/{name}": told[name] for name in ("net", "tax", "gross")}
    for place, line in enumerate(told.get("lines", ())):
        said[f"/acceptance/lines/{place}/price"] = line["price"]
        said[f"/acceptance/lines/{place}/share_percent"] = line["share_percent"]
    assert said.keys() <= set(office.get(where).json["figures"])
    tree = office.get(f"{where}?figure=/acceptance/gross").json["tree"]
    found = rebuilt(tree)
    percents = [figure for figure in said if figure.endswith("share_percent")]
    for figure in ("/acceptance/net", "/acceptance/tax", *percents[:: max(1, len(percents) // 3)]):
        found |= rebuilt(office.get(f"{where}?figure={figure}").json["tree"])
    for figure in said.keys() & found.keys():
        assert found[figure] == Fraction(str(said[figure])), figure
    assert said.keys() - set(percents) <= found.keys()
    assert any(node["name"].endswith("grout needed") for node in nodes(tree))


def test_a_part_is_told_line_by_line(demo: Office, issued: TestResponse) -> None:
    answer = step(demo, issued, "accept", {**ACCEPT, "scope": {"rooms": ["Bath"]}})
    assert answer.status_code == 200, answer.text
    told = answer.json["acceptance"]
    assert (told["whole"], told["rooms"]) == (False, ["Bath"])
    prices = [Decimal(line["price"]) for line in told["lines"]]
    assert sum(prices) == Decimal(told["net"])
    assert Decimal(told["net"]) + Decimal(told["tax"]) == Decimal(told["gross"])
    offered = answer.json["lines"]
    assert 0 < Decimal(told["gross"]) < Decimal(answer.json["totals"]["gross"])
    assert_explained(demo, answer.json)
    for line in told["lines"]:
        whole = offered[line["position"] - 1]
        assert Decimal(line["price"]) <= Decimal(whole["price"]) or whole["kind"] == "adjustment"
        if whole["kind"] == "delivery":
            assert (line["shared"], line["price"]) == (True, whole["price"])
        if whole["rooms"] == ["Hall"]:
            pytest.fail("a line of the room that was left out")


def test_all_rooms_are_the_whole_figure(demo: Office, issued: TestResponse) -> None:
    told = step(demo, issued, "accept", {**ACCEPT, "scope": {"rooms": [1, "Hall"]}}).json["acceptance"]
    totals = issued.json["totals"]
    assert (told["net"], told["tax"], told["gross"]) == (totals["net"], totals["tax"], totals["gross"])
    assert (told["whole"], "lines" in told) == (True, False)
    accepted = demo.get(f"/v1/quotes/{issued.json['id']}").json
    assert_explained(demo, accepted)


def test_what_changes_after_acceptance_is_a_variation(demo: Office, issued: TestResponse) -> None:
    where = f"/v1/quotes/{issued.json['id']}/variations"
    extra = {"rooms": JOB["rooms"][:1]}
    assert demo.post(where, extra).status_code == 409
    accepted = step(demo, issued, "accept", ACCEPT).json
    numbers = []
    for key in ("one", "two", "two"):
        made = demo.post(where, extra, Idempotency_Key=key)
        assert made.status_code == 201, made.text
        numbers.append(made.json["number"])
        assert (made.json["parent_id"], made.json["state"]) == (accepted["id"], "draft")
    number = accepted["number"]
    assert numbers == [f"{number}-V1", f"{number}-V2", f"{number}-V2"]
    assert demo.get(f"/v1/quotes/{accepted['id']}").json == accepted
    assert len(demo.get(f"/v1/quotes?parent_id={accepted['id']}").json["items"]) == 2
    assert step(demo, made, "issue").status_code == 200
    assert step(demo, made, "accept", ACCEPT).status_code == 200
    assert demo.post(f"/v1/quotes/{made.json['id']}/variations", extra).status_code == 409
    assert demo.post("/v1/quotes", extra).json["number"] == number.replace("0001", "0002")


def test_a_quote_tells_the_day_work_rates_of_its_terms(demo: Office, clock: object) -> None:
    item = demo.get("/v1/terms").json["items"][0]
    rates = [{"name": "Tiler", "hourly_price": "68.00"}]
    kept = {name: value for name, value in item.items() if name not in ("id", "created_at", "version")}
    changed = demo.put(f"/v1/terms/{item['id']}", {**kept, "day_work": rates}, If_Match="*")
    assert changed.status_code == 200, changed.text
    made = demo.post("/v1/quotes", JOB)
    assert made.json["day_work"] == rates
    assert demo.get(f"{made.headers['Location']}?view=customer").json["day_work"] == rates


def test_quotes_are_found_by_what_the_office_looks_for(
    demo: Office, clock: Callable[[datetime], None], demo_tiles: dict[str, str]
) -> None:
    tile = next(iter(demo_tiles.values()))
    rooms = [{**JOB["rooms"][0], "tile": {"product": tile}}]
    one = demo.post("/v1/quotes", {**JOB, "customer": {"name": "A. Customer"}})
    two = demo.post("/v1/quotes", {"rooms": rooms, "valid_days": 90})
    assert step(demo, one, "issue").status_code == 200
    customer = demo.get("/v1/quotes").json["items"][1]["customer_id"]
    today = datetime.now(UTC).date()

    def found(query: str) -> list[str]:
        answer = demo.get(f"/v1/quotes?{query}")
        assert answer.status_code == 200, answer.text
        return [item["id"] for item in answer.json["items"]]

    first, second = one.json["id"], two.json["id"]
    for query, expected in {
        "state=issued": [first],
        "state=draft": [second],
        f"customer_id={customer}": [first],
        f"product_id={tile}": [second],
        "valid_from=2026-06-12": [second],
        "valid_to=2026-06-11": [first],
        f"created_from={today - timedelta(days=1)}": [second, first],
        f"created_from={today + timedelta(days=2)}": [],
        f"created_to={today - timedelta(days=2)}": [],
        f"state=issued&product_id={tile}": [],
    }.items():
        assert found(query) == expected, query
    assert demo.get("/v1/quotes?created_from=soon").status_code == 422


def test_pages_stay_right_while_quotes_are_added(demo: Office, clock: object) -> None:
    first = [demo.post("/v1/quotes", JOB).json["id"] for _ in range(3)][::-1]
    page = demo.get("/v1/quotes?limit=2").json
    added = demo.post("/v1/quotes", JOB).json["id"]
    rest = demo.get(f"/v1/quotes?limit=2&cursor={page['next']}").json
    seen = [item["id"] for item in (*page["items"], *rest["items"])]
    assert (seen, rest["next"]) == (first, None)
    assert added not in seen


def test_the_published_examples_lead_through_a_life(demo: Office, clock: object) -> None:
    made = demo.post("/v1/quotes", examples.QUOTE)
    assert made.status_code == 201, made.text
    for name, body in (("issue", examples.ISSUE), ("accept", examples.ACCEPT)):
        answer = step(demo, made, name, body)
        assert answer.status_code == 200, answer.text
    assert demo.post(f"/v1/quotes/{made.json['id']}/variations", examples.VARIATION).status_code == 201
    other = demo.post("/v1/quotes", examples.QUOTE)
    assert patch(demo, other, examples.QUOTE_PATCH).status_code == 201
    assert step(demo, other, "withdraw", examples.WITHDRAW).status_code == 200


def test_a_draft_beside_what_was_accepted_is_refused_in_the_right_words(
    demo: Office, issued: TestResponse
) -> None:
    patch(demo, issued, {"valid_days": 20})
    assert step(demo, issued, "accept", {"revision": 1, "accepted_by": "A. Customer", "reference": "1"}).json
    refused = step(demo, issued, "issue", {"revision": 2})
    assert refused.status_code == 409
    assert refused.json["detail"].startswith("Another revision is accepted")
