"""The price book of a day over HTTP: moments, withdrawals, job offers, agreements, and price files."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from werkzeug.test import TestResponse

from service.api import examples
from service.api.framework.uploads import WORKBOOK
from tests.api import conformance
from tests.api.conftest import Office
from tests.imports.samples import PLAIN, workbook

LISTS = "/v1/price-lists"
TODAY = datetime.now(UTC).date()
GROUT = {"role": "grout", "name": "Grout ash", "code": "GR-1", "attributes": {}}


@pytest.fixture
def supplier(office: Office) -> str:
    for product in (GROUT, {**GROUT, "name": "Grout clay", "code": "GR-2"}):
        assert office.post("/v1/products", product).status_code == 201
    made: str = office.post("/v1/suppliers", examples.SUPPLIER).json["id"]
    return made


def draft_of(office: Office, supplier: str, **values: Any) -> str:
    head = {"supplier_id": supplier, "name": "Prices", "valid_from": "2026-01-01", **values}
    made = office.post(LISTS, head)
    assert made.status_code == 201, made.text
    where: str = made.headers["Location"]
    return where


def send(office: Office, where: str, content: Any, kind: str = "text/csv", **headers: str) -> TestResponse:
    named = {"Authorization": f"Bearer {office.key}", "If-Match": "*"}
    named |= {k.replace("_", "-"): v for k, v in headers.items()}
    answer = office.client.post(where, data=content, content_type=kind, headers=named)
    conformance.check("POST", where, answer)
    return answer


def live(office: Office, supplier: str, price: str, **values: Any) -> str:
    where = draft_of(office, supplier, **values)
    content = f"Code,Pack size,Price\nGR-1,10,{price}\n"
    answer = send(office, f"{where}/import?activate=true&confirm_jumps=true", content)
    assert answer.json["activated"], answer.text
    return where


def prices(office: Office, query: str = "") -> list[str]:
    return [row["price"] for row in office.get(f"/v1/price-book?role=grout{query}").json["items"]]


def test_an_import_names_the_version_that_it_may_start_from(office: Office, supplier: str) -> None:
    where = draft_of(office, supplier)
    content = "Code,Pack size,Price\nGR-1,10,12.00\n"
    assert send(office, f"{where}/import", content, If_Match="").status_code == 428
    assert send(office, f"{where}/import", content, If_Match='"v9"').status_code == 412
    assert office.get(f"{where}/items").json["items"] == []
    tag = office.get(where).headers["ETag"]
    dry = send(office, f"{where}/import?dry_run=true", content, If_Match=tag)
    assert dry.headers["ETag"] == tag
    done = send(office, f"{where}/import", content, If_Match=tag, Prefer="return=minimal")
    assert (done.status_code, done.data) == (204, b"")
    assert done.headers["ETag"] == office.get(where).headers["ETag"] != tag
    assert send(office, f"{where}/import", content, If_Match=tag).status_code == 412


@pytest.mark.parametrize("kind", ["text/csv", WORKBOOK, "multipart/form-data"])
def test_a_file_comes_as_text_workbook_or_form(office: Office, supplier: str, kind: str) -> None:
    table = workbook(line.split(",") for line in PLAIN.splitlines())
    form = {"file": (io.BytesIO(table), "prices.xlsx")}
    content = {"text/csv": PLAIN, WORKBOOK: table, "multipart/form-data": form}[kind]
    where = draft_of(office, supplier)
    dry = send(
        office,
        f"{where}/import?dry_run=true",
        content if kind != "multipart/form-data" else {"file": (io.BytesIO(table), "prices.xlsx")},
        kind,
    )
    assert (dry.status_code, dry.json["counts"]["new"], dry.json["dry_run"]) == (200, 3, True), dry.text
    assert office.get(f"{where}/items").json["items"] == []
    assert send(office, f"{where}/import", content, kind).json["unchanged"] is False
    assert [item["price"] for item in office.get(f"{where}/items").json["items"]].count("51.00") == 1


def test_what_was_left_out_is_told_and_wants_consent(office: Office, supplier: str) -> None:
    where = draft_of(office, supplier)
    report = send(office, f"{where}/import", PLAIN + "GR-1,Grout ash,20,1,NaN\n").json
    assert report["rejected"] == [{"row": 5, "column": "Net price", "value": "NaN", "reason": "not a number"}]
    refused = office.post(f"{where}/activate", If_Match="*")
    assert (refused.status_code, refused.json["type"]) == (409, "/problems/state-conflict")
    assert office.post(f"{where}/activate", {"accept_rejected": True}, If_Match="*").status_code == 200


@pytest.mark.parametrize(
    ("query", "content", "kind", "status", "parameter"),
    [
        ("", "a,b\n1,2\n", "text/csv", 422, "map"),
        ("?map=Cost%3Dcolour", PLAIN, "text/csv", 422, "map"),
        ("?encoding=klingon", PLAIN, "text/csv", 422, "encoding"),
        ("?decimal=dot", PLAIN, "text/csv", 422, "decimal"),
        ("", "{}", "application/json", 415, None),
        ("", {}, "multipart/form-data", 422, None),
    ],
)
def test_a_file_that_cannot_be_taken_is_a_problem(
    office: Office, supplier: str, query: str, content: Any, kind: str, status: int, parameter: str | None
) -> None:
    answer = send(office, f"{draft_of(office, supplier)}/import{query}", content, kind)
    assert answer.status_code == status, answer.text
    assert answer.json.get("errors", [{}])[0].get("parameter") == parameter


def test_a_file_may_be_larger_than_other_bodies_and_has_its_limit(
    office: Office, supplier: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    where = draft_of(office, supplier)
    more = "x" * 199
    lines = [f"GR-1,{more},{size},1,1.00\n" for size in range(1, 12_001)]
    content = "Code,Description,Pack size,From packs,Net price\n" + "".join(lines)
    assert len(content) > 2_000_000
    assert send(office, f"{where}/import", content).json["counts"]["accepted"] == 12_000
    limit = office.client.application.extensions["parts"].settings
    object.__setattr__(limit, "max_import_bytes", 1000)
    try:
        assert send(office, f"{where}/import", content).status_code == 413
    finally:
        object.__setattr__(limit, "max_import_bytes", 50_000_000)


def test_the_same_request_is_answered_from_its_key(office: Office, supplier: str) -> None:
    where = f"{draft_of(office, supplier)}/import"
    first = send(office, where, PLAIN, Idempotency_Key="one")
    again = send(office, where, PLAIN, Idempotency_Key="one")
    assert (again.json, again.headers["Idempotency-Replayed"]) == (first.json, "true")
    assert send(office, where, PLAIN + "\n", Idempotency_Key="one").status_code == 422


def test_a_list_holds_from_its_moment_on(office: Office, supplier: str) -> None:
    live(office, supplier, "10.00")
    later = draft_of(office, supplier, valid_from="2026-02-01")
    send(office, f"{later}/import", "Code,Pack size,Price\nGR-1,10,11.00\n")
    for at in ("2026-01-05T00:00:00+00:00", "2026-02-05T00:00:00+00:00"):
        early = office.post(f"{later}/activate", {"at": at}, If_Match="*")
        assert (early.status_code, early.json["errors"][0]["pointer"]) == (422, "/at")
    moment = datetime.now(UTC) + timedelta(days=3)
    active = office.post(f"{later}/activate", {"at": moment.isoformat()}, If_Match="*")
    assert datetime.fromisoformat(active.json["holds_from"]) == moment
    days = [TODAY + timedelta(days=n) for n in (0, 2, 3, 30)]
    held = [prices(office, f"&on={day}") for day in days]
    assert held == [["10.00"], ["10.00"], ["11.00"], ["11.00"]]
    past = f"&on=2026-02-02&known_at={datetime.now(UTC):%Y-%m-%dT%H:%M:%S.%fZ}"
    assert prices(office, past) == ["10.00"], "its first day was over when it was activated"


def test_a_list_for_days_that_are_over_does_not_change_what_they_were(office: Office, supplier: str) -> None:
    day = f"&on={TODAY - timedelta(days=1)}"
    assert prices(office, day) == []
    live(office, supplier, "10.00")
    live(office, supplier, "9.00", kind="promotion", priority=1)
    grant = {"supplier_id": supplier, "name": "Letter", "valid_from": "2026-01-01", "role": "grout"}
    assert office.post("/v1/agreements", {**grant, "percent": "50"}).status_code == 201
    assert prices(office, day) == [], "as it was known then"
    now = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%S.%fZ}"
    assert prices(office, f"{day}&known_at={now}") == ["9.00"] == prices(office)
    assert prices(office, f"{day}&known_at=2026-01-02T00:00:00Z") == []


def test_what_is_withdrawn_held_until_then(office: Office, supplier: str) -> None:
    where = live(office, supplier, "10.00")
    assert prices(office) == ["10.00"]
    gone = office.post(f"{where}/withdraw", If_Match="*")
    assert (gone.status_code, gone.json["state"]) == (200, "withdrawn")
    assert prices(office) == []
    now = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%S.%fZ}"
    assert prices(office, f"&on={TODAY - timedelta(days=1)}&known_at={now}") == ["10.00"]
    assert office.post(f"{where}/withdraw", If_Match="*").status_code == 409
    live(office, supplier, "12.00")
    assert prices(office) == ["12.00"]


def test_an_offer_for_one_job_counts_by_its_reference(office: Office, supplier: str) -> None:
    offer = {"kind": "job_offer", "reference": "Site 12", "priority": 5, "valid_until": "2027-12-31"}
    for lacking in ({"reference": None}, {"valid_until": None}, {"kind": "regular"}):
        head = {"supplier_id": supplier, "name": "Offer", "valid_from": "2026-01-01", **offer, **lacking}
        assert office.post(LISTS, head).status_code == 422
    live(office, supplier, "10.00")
    live(office, supplier, "8.00", **offer)
    live(office, supplier, "7.00", **{**offer, "reference": "Site 13"})
    assert prices(office) == ["10.00"]
    assert prices(office, "&reference=Site+12") == ["8.00"]


def test_agreements_are_told_and_only_end(office: Office, supplier: str) -> None:
    live(office, supplier, "10.05")
    grants = {"supplier_id": supplier, "name": "Letter", "valid_from": "2026-01-01"}
    for wrong in ({}, {"percent": "5"}, {"role": "grout", "price": "1.00", "pack_size": "10"}):
        assert office.post("/v1/agreements", {**grants, **wrong}).status_code == 422
    made = office.post("/v1/agreements", {**grants, "role": "grout", "percent": "7.5"})
    [row] = office.get("/v1/price-book?role=grout").json["items"]
    assert (row["price"], row["net_price"], row["agreement"]["name"]) == ("9.29625", "10.05", "Letter")
    product = row["product"]["id"]
    fixed = {**grants, "product_id": product, "price": "8.00", "pack_size": "10"}
    assert office.post("/v1/agreements", fixed).status_code == 201
    assert prices(office) == ["8.00"], "by product before by role"
    where = made.headers["Location"]
    past = office.post(f"{where}/end", {"valid_until": "2026-02-01"}, If_Match="*")
    assert (past.status_code, past.json["errors"][0]["pointer"]) == (422, "/valid_until")
    assert office.post(f"{where}/end", {"valid_until": str(TODAY)}, If_Match="*").status_code == 200
    longer = office.post(f"{where}/end", {"valid_until": str(TODAY + timedelta(days=1))}, If_Match="*")
    assert (longer.status_code, longer.json["errors"][0]["pointer"]) == (422, "/valid_until")
    assert len(office.get("/v1/agreements").json["items"]) == 2


def test_what_activated_prices_mean_is_not_changed_afterwards(office: Office, supplier: str) -> None:
    place, abroad = f"/v1/suppliers/{supplier}", {**examples.SUPPLIER, "currency": "CHF"}
    assert office.put(place, abroad, If_Match="*").status_code == 200
    assert office.put(place, examples.SUPPLIER, If_Match="*").status_code == 200
    live(office, supplier, "10.00")
    [row] = office.get("/v1/price-book?role=grout").json["items"]
    other = {**GROUT, "role": "primer"}
    refused = [
        office.put(place, abroad, If_Match="*"),
        office.put(f"/v1/products/{row['product']['id']}", other, If_Match="*"),
    ]
    told = [(answer.status_code, answer.json["errors"][0]["pointer"]) for answer in refused]
    assert told == [(409, "/currency"), (409, "/role")]
    assert office.put(place, {**examples.SUPPLIER, "carry_in": "9.00"}, If_Match="*").status_code == 200


def test_the_book_is_read_page_by_page(office: Office, supplier: str) -> None:
    where = draft_of(office, supplier)
    send(office, f"{where}/import?activate=true", PLAIN)
    seen, path = [], "/v1/price-book?limit=2"
    while path:
        page = office.get(path)
        seen += [(row["product"]["code"], row["min_packs"]) for row in page.json["items"]]
        path = page.headers.get("Link", "").partition(">")[0].lstrip("<")
    assert sorted(seen) == [("GR-1", 1), ("GR-1", 5), ("GR-2", 1)]


def test_list_price_less_percent_is_worked_out_and_shown(office: Office, supplier: str) -> None:
    product = office.post("/v1/products", examples.PRODUCT).json["id"]
    where = draft_of(office, supplier, list_percent="12.5", discounts={"T": "33.33"})
    item = {"product_id": product, "pack_size": "11"}
    items = [
        {**item, "list_price": "19.99"},
        {**item, "list_price": "45.90", "per": "m2", "discount_group": "T", "min_packs": 5},
        {**item, "list_price": "4.10", "per": "unit", "percent": "10", "min_packs": 9},
    ]
    written = office.put(f"{where}/items", {"items": items}, If_Match="*")
    told = [(i["price"], i["percent_from"], i["priced_units"]) for i in written.json["items"]]
    assert told == [
        ("17.49125", "list", "1"),
        ("30.2955147", "group", "0.99"),  # 45.90 x 0.99 x 0.6667
        ("40.59", "item", "11"),
    ]
    wrong = {"items": [{**items[0], "price": "17.00"}]}
    answer = office.put(f"{where}/items", wrong, If_Match="*")
    assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/items/0/price")


def test_the_limit_of_a_jump_is_the_offices_own(office: Office, supplier: str) -> None:
    limit = office.get("/v1/price-book/limit")
    assert limit.json == {"jump_percent": "40"}
    changed = office.put("/v1/price-book/limit", {"jump_percent": "5"}, If_Match=limit.headers["ETag"])
    assert changed.status_code == 200
    live(office, supplier, "10.00")
    later = draft_of(office, supplier, valid_from="2026-02-01")
    report = send(office, f"{later}/import?activate=true", "Code,Pack size,Price\nGR-1,10,10.51\n").json
    assert (report["activated"], report["missing"], report["jumps"][0]["percent"]) == (
        False,
        ["confirm_jumps"],
        "5.1",
    )
