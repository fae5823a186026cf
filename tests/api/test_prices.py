"""Price lists over HTTP: written as a draft, activated, never edited after."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from service.api import examples
from tests.api.conftest import Office

LISTS = "/v1/price-lists"


@pytest.fixture
def product(office: Office) -> str:
    product_id: str = office.post("/v1/products", examples.PRODUCT).json["id"]
    return product_id


@pytest.fixture
def draft(office: Office) -> str:
    return make_draft(office)


def make_draft(office: Office) -> str:
    supplier = office.post("/v1/suppliers", examples.SUPPLIER).json["id"]
    made = office.post(LISTS, {**examples.PRICE_LIST, "supplier_id": supplier})
    assert made.status_code == 201, made.text
    assert made.json["state"] == "draft"
    return made.headers["Location"]


def prices(product: str) -> dict[str, Any]:
    return {"items": [{**item, "product_id": product} for item in examples.PRICE_ITEMS["items"]]}


def test_a_draft_is_priced_activated_and_then_stands(office: Office, draft: str, product: str) -> None:
    written = office.put(f"{draft}/items", prices(product), If_Match='"v1"')
    assert written.status_code == 200, written.text
    assert written.headers["ETag"] == '"v2"'
    assert [(i["min_packs"], i["price"], i["pack_size"]) for i in written.json["items"]] == [
        (1, "31.90", "11"),
        (20, "29.40", "11"),
    ]
    assert office.get(f"{draft}/items").json == written.json

    active = office.post(f"{draft}/activate", If_Match='"v2"')
    assert active.status_code == 200, active.text
    assert (active.json["state"], active.headers["ETag"]) == ("active", '"v3"')

    assert office.put(f"{draft}/items", prices(product), If_Match="*").status_code == 409
    assert office.put(draft, examples.PRICE_LIST, If_Match="*").status_code == 409
    assert office.delete(draft, If_Match="*").status_code == 409
    assert office.post(f"{draft}/activate", If_Match="*").status_code == 409
    assert office.get(f"{draft}/items").json == written.json


def test_prices_are_written_in_place_of_those_before(office: Office, draft: str, product: str) -> None:
    office.put(f"{draft}/items", prices(product), If_Match="*")
    one = {"items": [{"product_id": product, "pack_size": "4.5", "price": "10"}]}
    assert office.put(f"{draft}/items", one, If_Match="*").status_code == 200
    assert [item["pack_size"] for item in office.get(f"{draft}/items").json["items"]] == ["4.5"]


def test_a_list_without_prices_cannot_be_activated(office: Office, draft: str) -> None:
    answer = office.post(f"{draft}/activate", If_Match="*")
    assert (answer.status_code, answer.json["type"]) == (409, "/problems/state-conflict")
    assert office.get(draft).json["state"] == "draft"


def test_a_draft_can_be_thrown_away(office: Office, draft: str, product: str) -> None:
    office.put(f"{draft}/items", prices(product), If_Match="*")
    assert office.delete(draft, If_Match="*").status_code == 204
    assert office.get(draft).status_code == 404


@pytest.mark.parametrize(
    ("place", "change", "pointer"),
    [
        (1, {"product_id": examples.SOME_ID}, "/items/1/min_packs"),
        (0, {"price": 31.9}, "/items/0/price"),
        (0, {"price": "-1"}, "/items/0/price"),
        (0, {"pack_size": "0"}, "/items/0/pack_size"),
        (0, {"min_packs": 0}, "/items/0/min_packs"),
        (1, {"min_packs": 1}, "/items/1/min_packs"),
        (0, {"min_packs": 2}, "/items/0/min_packs"),
    ],
)
def test_a_wrong_price_is_told_by_its_place(
    office: Office, draft: str, product: str, place: int, change: dict, pointer: str
) -> None:
    body = prices(product)
    body["items"][place] |= change
    answer = office.put(f"{draft}/items", body, If_Match="*")
    assert answer.status_code == 422, answer.text
    assert answer.json["errors"][0]["pointer"] == pointer
    assert office.get(f"{draft}/items").json["items"] == []


def test_an_unknown_product_is_told_by_its_place(office: Office, draft: str) -> None:
    answer = office.put(f"{draft}/items", examples.PRICE_ITEMS, If_Match="*")
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/items/0/product_id")


def test_another_organisations_product_or_supplier_is_unknown(new_office: Callable[..., Office]) -> None:
    ours, theirs = new_office(), new_office()
    product = theirs.post("/v1/products", examples.PRODUCT).json["id"]
    supplier = theirs.post("/v1/suppliers", examples.SUPPLIER).json["id"]
    assert ours.put(f"{make_draft(ours)}/items", prices(product), If_Match="*").status_code == 422
    answer = ours.post(LISTS, {**examples.PRICE_LIST, "supplier_id": supplier})
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/supplier_id")


def test_lists_are_filtered_by_state_and_supplier(office: Office, draft: str) -> None:
    assert len(office.get(f"{LISTS}?state=draft").json["items"]) == 1
    assert office.get(f"{LISTS}?state=active").json["items"] == []
    assert office.get(f"{LISTS}?supplier_id={examples.SOME_ID}").json["items"] == []
    backwards = {**examples.PRICE_LIST, "valid_until": "2026-01-01"}
    assert office.post(LISTS, backwards).json["errors"][0]["pointer"] == "/valid_until"
