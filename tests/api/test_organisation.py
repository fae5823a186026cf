"""The organisation's particulars: read, replaced under If-Match, for administrators only."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from service.api import examples
from tests.api.conftest import Office


def test_the_letterhead_is_kept_as_sent(office: Office) -> None:
    before = office.get("/v1/organisation")
    assert (before.json["currency"], before.json["standards"], before.json["letterhead"]) == ("USD", "us", {})
    changed = office.put("/v1/organisation", examples.ORGANISATION, If_Match=before.headers["ETag"])
    assert changed.status_code == 200, changed.text
    assert changed.headers["ETag"] == '"v2"'
    assert examples.ORGANISATION.items() <= office.get("/v1/organisation").json.items()
    assert office.put("/v1/organisation", examples.ORGANISATION, If_Match='"v1"').status_code == 412


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"time_zone": "Nowhere/Here"}, "/time_zone"),
        ({"time_zone": "../etc/passwd"}, "/time_zone"),
        ({"number_prefix": "a b"}, "/number_prefix"),
        ({"letterhead": {"paper": "a3"}}, "/letterhead/paper"),
        ({"letterhead": {"terms_text": "x" * 8001}}, "/letterhead/terms_text"),
        ({"letterhead": {"address": {"country": "Germany"}}}, "/letterhead/address/country"),
        ({"currency": "EUR"}, "/currency"),
    ],
)
def test_a_bad_particular_is_named(office: Office, change: dict, pointer: str) -> None:
    answer = office.put("/v1/organisation", {**examples.ORGANISATION, **change}, If_Match="*")
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)


def test_only_administrators_may(new_office: Callable[..., Office]) -> None:
    assert new_office("quotes", "prices").get("/v1/organisation").status_code == 403
