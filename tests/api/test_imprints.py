"""A document that was issued says what it said then, whatever the office or the customer's row says now."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError, ProgrammingError
from werkzeug.test import TestResponse

from service.api import examples
from service.store import customers
from service.store.models import QuoteImprint
from service.store.session import OfficeSession
from tests.api.conftest import Office
from tests.api.test_difference import compared
from tests.api.test_quote_life import ACCEPT, JOB, clock, patch, step
from tests.factories import CustomerFactory, QuoteRevisionFactory

__all__ = ["clock"]
PERSON = {
    "name": "Nora Invented",
    "kind": "consumer",
    "address": {"lines": ["1 First Row"], "city": "Oldtown"},
}
WORDS = {"terms_text": "Terms of the first day.", "payment_terms": "Pay within 30 days."}
LATER = {"terms_text": "Terms of a later day.", "payment_terms": "Pay at once."}


def printed(demo: Office, name: str, letterhead: dict[str, Any]) -> None:
    held = demo.get("/v1/organisation").json
    body = {**examples.ORGANISATION, "name": name, "time_zone": held["time_zone"], "letterhead": letterhead}
    answer = demo.put("/v1/organisation", body, If_Match="*")
    assert answer.status_code == 200, answer.text


@pytest.fixture
def made(demo: Office, clock: object) -> TestResponse:
    """A draft to a consumer under the first letterhead."""
    printed(demo, "First Floors", WORDS)
    answer = demo.post("/v1/quotes", {**JOB, "customer": PERSON})
    assert answer.status_code == 201, answer.text
    return answer


def customer_of(demo: Office) -> str:
    found = next(one for one in demo.get("/v1/customers").json["items"] if one["name"] == PERSON["name"])
    return f"/v1/customers/{found['id']}"


def changed_afterwards(demo: Office) -> None:
    printed(demo, "Second Floors", LATER)
    where = customer_of(demo)
    body = {**PERSON, "name": "Other Ltd", "kind": "business", "locale": "de"}
    assert demo.put(where, body, If_Match="*").status_code == 200


@pytest.mark.parametrize("end", ["issue", "accept", "decline", "superseded"])
def test_what_was_issued_stays_as_it_was_printed(demo: Office, made: TestResponse, end: str) -> None:
    where = f"/v1/quotes/{made.json['id']}/document?revision=1"
    step(demo, made, "issue")
    if end in ("accept", "decline"):
        step(demo, made, end, ACCEPT if end == "accept" else {"reason": "too dear"})
    before = demo.get(where)
    changed_afterwards(demo)
    if end == "superseded":
        patch(demo, made, {"rooms": JOB["rooms"][:1]})
        step(demo, made, "issue")
        assert "Second Floors" in demo.get(where.replace("=1", "=2")).text
        assert "was replaced" in demo.get(where).text or demo.get(where).text != before.text
    else:
        assert demo.get(where).data == before.data
    told = demo.get(where)
    for said in ("First Floors", *WORDS.values(), "Nora Invented", "Right to withdraw"):
        assert said in told.text, said
    for said in ("Second Floors", *LATER.values(), "Other Ltd", "Between businesses"):
        assert said not in told.text, said
    assert told.headers["Content-Language"] == "en"


def test_a_draft_shows_what_stands_today(demo: Office, made: TestResponse) -> None:
    changed_afterwards(demo)
    told = demo.get(f"/v1/quotes/{made.json['id']}/document?locale=en").text
    for said in ("Second Floors", *LATER.values(), "Other Ltd", "Between businesses"):
        assert said in told


def test_the_difference_tells_texts_that_changed(demo: Office, made: TestResponse) -> None:
    step(demo, made, "issue")
    changed_afterwards(demo)
    patch(demo, made, {})
    moved = {change["pointer"]: change for change in compared(demo, made.json["id"])["terms"]}
    for name in WORDS:
        change = moved[f"/printed/letterhead/{name}"]
        assert (change["before"], change["after"]) == (WORDS[name], LATER[name])
    assert moved["/printed/office"]["after"] == "Second Floors"
    assert moved["/printed/customer/kind"]["after"] == "business"
    assert not any("Nora" in str(change) for change in moved.values())


def test_who_was_erased_is_gone_from_what_was_printed(demo: Office, made: TestResponse) -> None:
    step(demo, made, "issue")
    step(demo, made, "accept", ACCEPT)
    assert demo.post(f"{customer_of(demo)}/erase", If_Match="*").status_code == 200
    told = demo.get(f"/v1/quotes/{made.json['id']}/document").text
    assert "personal data were erased" in told
    assert "Right to withdraw" in told, "the texts are still a consumer's"
    assert not [said for said in ("Nora", "First Row", "Oldtown") if said in told]


def test_an_imprint_changes_by_erasure_alone(session: OfficeSession) -> None:
    customer = CustomerFactory(session=session, tax_number="XX-1")
    revision = QuoteRevisionFactory(session=session, customer_id=customer.id, state="issued")
    kept = session.get_one(QuoteImprint, (revision.org_id, revision.quote_id, 1))
    assert kept.customer is not None
    assert (kept.customer["name"], kept.customer["tax_number"]) == (customer.name, "XX-1")
    for statement in ("SET customer = customer - 'name'", "SET customer = NULL"):
        with pytest.raises(IntegrityError, match="never changes"), session.begin_nested():
            session.execute(text(f"UPDATE quote_imprints {statement}"))
    for statement in ("UPDATE quote_imprints SET office = '{}'", "DELETE FROM quote_imprints"):
        with pytest.raises(ProgrammingError, match="permission denied"), session.begin_nested():
            session.execute(text(statement))
    customers.erase(session, customer.id, None)
    session.refresh(kept)
    assert kept.customer == {"kind": "consumer", "locale": None}
    with pytest.raises(IntegrityError, match="never changes"), session.begin_nested():
        session.execute(text("""UPDATE quote_imprints SET customer = customer || '{"kind": "business"}'"""))


def test_an_offer_to_who_was_erased_already_keeps_nothing_of_them(session: OfficeSession) -> None:
    customer = CustomerFactory(session=session)
    customers.erase(session, customer.id, None)
    revision = QuoteRevisionFactory(session=session, customer_id=customer.id, state="issued")
    kept = session.get_one(QuoteImprint, (revision.org_id, revision.quote_id, 1))
    assert kept.customer == {"kind": "consumer", "locale": None}
