"""Erasing a customer: the person is gone from every table, the quote's figures stay."""

from __future__ import annotations

from collections.abc import Callable

import psycopg
import pytest

from service.api import examples
from service.store.engine import libpq_url
from service.store.models import Base
from tests.api.conftest import Office
from tests.api.test_quote_life import JOB, step

PERSON = {
    "name": "Philippa Unmistakable",
    "email": "unmistakable@example.com",
    "phone": "555 0199 777",
    "address": {"lines": ["77 Unmistakable Row"], "city": "Sampleton"},
    "note": "the Unmistakable family",
    "tax_number": "XX-0199-777",
}
TRACES = ("unmistakable", " 0199 777", "-0199-777")


def _everything(database_url: str) -> dict[str, str]:
    """All rows of all tables as text, stored answers decoded."""
    with psycopg.connect(libpq_url(database_url)) as connection:
        found = {}
        for table in Base.metadata.tables:
            rows = connection.execute(f"SELECT to_jsonb(t)::text FROM {table} AS t").fetchall()  # noqa: S608
            found[table] = "\n".join(row[0] for row in rows).lower()
        bodies = connection.execute("SELECT convert_from(body, 'UTF8') FROM idempotency_keys").fetchall()
    found["idempotency_keys"] += "\n".join(row[0] for row in bodies).lower()
    return found


def _traced(database_url: str) -> set[str]:
    return {
        table for table, text in _everything(database_url).items() if any(trace in text for trace in TRACES)
    }


def test_the_person_goes_and_the_figures_stay(demo: Office, database_url: str) -> None:
    body = {**examples.QUOTE, "customer": PERSON}
    made = demo.post("/v1/quotes", body, Idempotency_Key="erase-me").json
    where = f"/v1/quotes/{made['id']}"
    other = demo.post("/v1/quotes", examples.QUOTE, Idempotency_Key="keep-me").json
    assert "unmistakable" in demo.get(f"{where}/document").text.lower()
    assert {"customers", "idempotency_keys"} <= _traced(database_url)

    customers = demo.get("/v1/customers").json["items"]
    customer = next(one["id"] for one in customers if one["name"] == PERSON["name"])
    erased = demo.post(f"/v1/customers/{customer}/erase", If_Match='"v1"')
    assert (erased.status_code, erased.headers["ETag"]) == (200, '"v2"')
    assert erased.json["erased_at"]
    assert erased.json["name"] == "Erased"
    back = demo.put(f"/v1/customers/{customer}", PERSON, If_Match=erased.headers["ETag"])
    assert back.status_code == 409
    assert "erased" in back.json["detail"]

    assert _traced(database_url) == set()
    after = demo.get(where).json
    for figure in ("number", "totals", "lines", "rooms", "materials", "labour", "versions"):
        assert after[figure] == made[figure], figure
    replayed = demo.post("/v1/quotes", examples.QUOTE, Idempotency_Key="keep-me")
    assert (replayed.headers["Idempotency-Replayed"], replayed.json["id"]) == ("true", other["id"])


def test_what_the_person_said_goes_too(demo: Office, database_url: str) -> None:
    made = demo.post("/v1/quotes", {**JOB, "customer": PERSON})
    where = f"/v1/quotes/{made.json['id']}"
    assert step(demo, made, "issue").status_code == 200
    said = {"revision": 1, "accepted_by": PERSON["name"], "reference": "Unmistakable 1"}
    accepted = step(demo, made, "accept", said).json
    assert "quote_events" in _traced(database_url)
    customer = demo.get("/v1/customers").json["items"][0]["id"]
    assert demo.post(f"/v1/customers/{customer}/erase", If_Match="*").status_code == 200
    assert _traced(database_url) == set()
    told = demo.get(where).json["acceptance"]
    assert told == {**accepted["acceptance"], "accepted_by": None, "reference": None}
    events = demo.get(f"{where}/revisions").json["items"][0]["events"]
    assert [(event["kind"], event["by"]) for event in events] == [
        ("draft", None),
        ("issued", None),
        ("accepted", None),
    ]


@pytest.mark.parametrize("accept", ["text/html", "application/pdf"])
def test_documents_of_an_erased_customer_say_so(demo: Office, accept: str) -> None:
    made = demo.post("/v1/quotes", {**examples.QUOTE, "customer": PERSON}).json
    customer = demo.get("/v1/customers").json["items"][0]["id"]
    assert demo.post(f"/v1/customers/{customer}/erase", If_Match="*").status_code == 200
    answer = demo.get(f"/v1/quotes/{made['id']}/document", Accept=accept)
    assert answer.status_code == 200
    if accept == "text/html":
        assert "personal data were erased" in answer.text
        assert "unmistakable" not in answer.text.lower()


def test_who_may_erase_whom(new_office: Callable[..., Office], office: Office) -> None:
    customer = office.post("/v1/customers", PERSON).headers["Location"]
    assert new_office("quotes").post(f"{customer}/erase", If_Match="*").status_code == 403
    assert new_office().post(f"{customer}/erase", If_Match="*").status_code == 404, "another organisation's"
    assert office.post(f"{customer}/erase").status_code == 428
    assert office.post(f"{customer}/erase", If_Match='"v9"').status_code == 412
    assert office.get(customer).json["name"] == PERSON["name"]
