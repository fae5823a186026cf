"""Suppliers, products, customers: stored, read, replaced under If-Match, taken away."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from service.api import examples
from tests.api.conftest import Office

THINGS = [
    ("suppliers", examples.SUPPLIER, {**examples.SUPPLIER, "delivery_charge": "50.00"}),
    ("products", examples.PRODUCT, {**examples.PRODUCT, "code": "FOG-300"}),
    ("customers", examples.CUSTOMER, {**examples.CUSTOMER, "phone": "555 0100"}),
]


@pytest.mark.parametrize(("path", "first", "second"), THINGS)
def test_a_thing_lives_from_post_to_delete(office: Office, path: str, first: dict, second: dict) -> None:
    made = office.post(f"/v1/{path}", first)
    assert made.status_code == 201, made.text
    where = made.headers["Location"]
    assert made.headers["ETag"] == '"v1"'
    assert {name: made.json[name] for name in first if name != "address"}.items() <= made.json.items()

    read = office.get(where)
    assert read.json == made.json
    assert read.headers["ETag"] == '"v1"'

    changed = office.put(where, second, If_Match='"v1"')
    assert changed.status_code == 200, changed.text
    assert changed.headers["ETag"] == '"v2"'
    assert office.get(where).json == changed.json

    assert office.delete(where, If_Match='"v2"').status_code == 204
    assert office.get(f"/v1/{path}").json == {"items": [], "next": None}


@pytest.mark.parametrize(("path", "first", "second"), THINGS)
def test_a_change_wants_the_etag_that_is_in_force(
    office: Office, path: str, first: dict, second: dict
) -> None:
    where = office.post(f"/v1/{path}", first).headers["Location"]
    without = office.put(where, second)
    assert (without.status_code, without.json["type"]) == (428, "/problems/precondition-required")
    assert office.put(where, second, If_Match='"v7"').status_code == 412
    assert office.put(where, second, If_Match='W/"v1"').status_code == 412, "a weak tag never matches"
    assert office.delete(where, If_Match='"v7"').status_code == 412
    assert office.get(where).headers["ETag"] == '"v1"', "nothing was changed"
    assert office.put(where, second, If_Match='"v9", "v1"').status_code == 200
    assert office.put(where, second, If_Match="*").headers["ETag"] == '"v3"'


def test_a_known_etag_gets_304_with_the_etag(office: Office) -> None:
    where = office.post("/v1/suppliers", examples.SUPPLIER).headers["Location"]
    known = office.get(where, If_None_Match='"v1"')
    assert (known.status_code, known.data, known.headers["ETag"]) == (304, b"", '"v1"')
    assert office.get(where, If_None_Match='W/"v1"').status_code == 304
    assert office.get(where, If_None_Match='"v2"').status_code == 200


def test_a_second_thing_of_the_same_name_is_a_conflict(office: Office) -> None:
    office.post("/v1/suppliers", examples.SUPPLIER)
    again = office.post("/v1/suppliers", examples.SUPPLIER)
    assert (again.status_code, again.json["type"]) == (409, "/problems/state-conflict")


def test_a_list_is_read_page_by_page_without_gaps(office: Office) -> None:
    names = [f"Supplier {number}" for number in range(7)]
    for name in names:
        assert office.post("/v1/suppliers", {**examples.SUPPLIER, "name": name}).status_code == 201
    seen, path = [], "/v1/suppliers?limit=3"
    while path:
        page = office.get(path)
        seen += [item["name"] for item in page.json["items"]]
        link = page.headers.get("Link", "")
        assert ('rel="next"' in link) == (page.json["next"] is not None)
        path = link.partition(">")[0].lstrip("<")
        if len(seen) == 3:  # a row that comes between two pages moves nothing
            office.post("/v1/suppliers", {**examples.SUPPLIER, "name": "Latecomer"})
    assert seen == names[::-1]


@pytest.mark.parametrize(
    "query", ["limit=0", "limit=201", "limit=x", "cursor=nonsense", "cursor=%00", "colour=red"]
)
def test_a_wrong_query_is_told_by_its_parameter(office: Office, query: str) -> None:
    answer = office.get(f"/v1/suppliers?{query}")
    assert answer.status_code == 422
    assert answer.json["errors"][0]["parameter"] == query.partition("=")[0]


@pytest.mark.parametrize(
    ("path", "change", "pointer"),
    [
        ("suppliers", {"delivery_charge": 45.0}, "/delivery_charge"),
        ("suppliers", {"delivery_charge": "45.00001"}, "/delivery_charge"),
        ("suppliers", {"delivery_charge": "-1"}, "/delivery_charge"),
        ("suppliers", {"delivery_charge": "1e3"}, "/delivery_charge"),
        ("suppliers", {"currency": "usd"}, "/currency"),
        ("suppliers", {"currency": "XXX"}, "/currency"),
        ("suppliers", {"currency": "XAU"}, "/currency"),
        ("suppliers", {"currency": "USD\n"}, "/currency"),
        ("suppliers", {"name": "  "}, "/name"),
        ("suppliers", {"name": "a\x00b"}, "/name"),
        ("suppliers", {"na/me~": "x"}, "/na~1me~0"),
        ("suppliers", {"lead_time_days": True}, "/lead_time_days"),
        ("suppliers", {"lead_time_days": "3"}, "/lead_time_days"),
        ("products", {"role": "wallpaper"}, "/role"),
        ("products", {"unit": "kg"}, "/unit"),
        ("products", {"attributes": {"length_mm": 300, "thickness_mm": 9}}, "/attributes/width_mm"),
        ("products", {"attributes": {**examples.PRODUCT["attributes"], "odd": None}}, "/attributes/odd"),
        ("customers", {"email": "nowhere"}, "/email"),
        ("customers", {"address": {"lines": ["4 Example Row", ""]}}, "/address/lines/1"),
    ],
)
def test_a_wrong_field_is_told_by_its_pointer(office: Office, path: str, change: dict, pointer: str) -> None:
    example = {"suppliers": examples.SUPPLIER, "products": examples.PRODUCT, "customers": examples.CUSTOMER}
    answer = office.post(f"/v1/{path}", {**example[path], **change})
    assert answer.status_code == 422, answer.text
    assert answer.content_type == "application/problem+json"
    assert [fault["pointer"] for fault in answer.json["errors"]] == [pointer]
    assert office.get(f"/v1/{path}").json["items"] == []


def test_an_organisation_does_not_see_anothers_things(new_office: Callable[..., Office]) -> None:
    ours, theirs = new_office(), new_office()
    where = theirs.post("/v1/suppliers", examples.SUPPLIER).headers["Location"]
    assert ours.get(where).status_code == 404
    assert ours.put(where, examples.SUPPLIER, If_Match="*").status_code == 404
    assert ours.delete(where, If_Match="*").status_code == 404
    assert ours.get("/v1/suppliers").json["items"] == []
    assert ours.post("/v1/suppliers", examples.SUPPLIER).status_code == 201, "names are each one's own"
    assert theirs.get(where).status_code == 200
