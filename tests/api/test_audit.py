"""The record of changes over HTTP: who, when, old, new, by page and by filter."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.api import examples
from tests.api.conftest import Office


def changes(office: Office, **query: Any) -> list[dict[str, Any]]:
    told = "&".join(f"{name}={str(value).replace('+', '%2B')}" for name, value in query.items())
    answer = office.get(f"/v1/audit?{told}")
    assert answer.status_code == 200, answer.text
    items: list[dict[str, Any]] = answer.json["items"]
    return items


def test_who_changed_what_and_when_is_told(office: Office) -> None:
    before = datetime.now(UTC) - timedelta(minutes=1)
    made = office.post("/v1/suppliers", examples.SUPPLIER)
    office.put(made.headers["Location"], {**examples.SUPPLIER, "delivery_charge": "49.90"}, If_Match='"v1"')
    changed, created = changes(office, subject="supplier")
    (key,) = (item["id"] for item in office.get("/v1/keys").json["items"])
    assert (changed["key"], changed["subject_id"]) == (key, made.json["id"])
    assert (changed["action"], created["action"]) == ("changed", "created")
    assert (changed["old"], changed["new"]) == (
        {"delivery_charge": "45.0000"},
        {"delivery_charge": "49.9000"},
    )
    assert before < datetime.fromisoformat(created["at"]) <= datetime.fromisoformat(changed["at"])


def test_a_refused_change_is_not_on_record(office: Office) -> None:
    office.post("/v1/suppliers", examples.SUPPLIER)
    assert office.post("/v1/suppliers", examples.SUPPLIER).status_code == 409
    assert len(changes(office)) == 1


def test_filters_and_pages(office: Office) -> None:
    office.post("/v1/exchange-rates", examples.EXCHANGE_RATE)
    taxes = office.post("/v1/taxes", examples.TAXES).json["id"]
    office.post("/v1/terms", examples.TERMS)
    subjects = ["terms", "tax", "exchange_rate"]
    assert [item["subject"] for item in changes(office)] == subjects
    assert [item["subject_id"] for item in changes(office, subject_id=taxes)] == [taxes]
    (tax,) = changes(office, subject="tax")
    assert len(changes(office, until=tax["at"])) == 1
    assert len(changes(office, since=tax["at"])) == 2
    assert len(changes(office, key=tax["key"])) == 3
    assert changes(office, key=examples.SOME_ID) == []
    paged, where = [], "/v1/audit?limit=2"
    while where:
        page = office.get(where)
        paged += [item["subject"] for item in page.json["items"]]
        where = page.headers.get("Link", "").partition("<")[2].partition(">")[0]
    assert paged == subjects


def test_keys_are_no_part_of_it(office: Office) -> None:
    office.post("/v1/keys", examples.KEY)
    assert changes(office) == []


def test_who_may_read_it(new_office: Callable[..., Office]) -> None:
    assert new_office("quotes").get("/v1/audit").status_code == 403
    assert new_office("prices").get("/v1/audit").status_code == 200


@pytest.mark.parametrize("query", ["subject=mood", "subject_id=7", "key=x", "since=yesterday", "limit=0"])
def test_a_wrong_filter_is_named(office: Office, query: str) -> None:
    answer = office.get(f"/v1/audit?{query}")
    assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, query.partition("=")[0])
