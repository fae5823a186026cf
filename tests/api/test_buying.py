"""How a quote's goods are bought, over HTTP: the basket and its limits, in the request and in the terms."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from tests.api.conftest import Office


@pytest.fixture
def suppliers(demo: Office) -> dict[str, str]:
    """Ids of the demo's suppliers by the first word of their names."""
    return {row["name"].split()[0]: row["id"] for row in demo.get("/v1/suppliers").json["items"]}


def made(demo: Office, job: dict[str, Any], **asked: Any) -> dict[str, Any]:
    answer = demo.post("/v1/quotes", {**job, **asked})
    assert answer.status_code == 201, answer.text
    quote: dict[str, Any] = answer.json
    return quote


def refused(demo: Office, job: dict[str, Any], **asked: Any) -> list[dict[str, str]]:
    answer = demo.post("/v1/quotes", {**job, **asked})
    assert answer.status_code == 422, answer.text
    errors: list[dict[str, str]] = answer.json["errors"]
    return errors


def test_a_quote_tells_its_basket_to_the_office_alone(demo: Office, job: dict[str, Any]) -> None:
    quote = made(demo, job)
    basket = quote["basket"]
    bought = [line for line in quote["lines"] if line["supplier"] is not None]
    assert Decimal(basket["cost"]) == sum(Decimal(line["amount"]) for line in bought)
    assert {order["supplier"] for order in basket["orders"]} == {line["supplier"] for line in bought}
    assert basket["gap"] == "0.00"
    assert Decimal(basket["second_best"]["cost"]) >= Decimal(basket["cost"])
    assert quote == demo.get(quote["links"]["self"]).json
    assert "basket" not in demo.get(quote["links"]["self"] + "?view=customer").json


def test_too_few_suppliers_name_the_limit(demo: Office, job: dict[str, Any]) -> None:
    (error,) = refused(demo, job, buying={"max_suppliers": 1})
    assert error["pointer"] == "/buying/max_suppliers"
    assert "it takes 3 or more" in error["detail"]


def test_a_preferred_supplier_is_taken_for_a_tolerated_extra(
    demo: Office, job: dict[str, Any], suppliers: dict[str, str]
) -> None:
    free = made(demo, job)["basket"]
    asked = {"preferred": [suppliers["Quillfen"]], "tolerated_extra_percent": "60"}
    basket = made(demo, job, buying=asked)["basket"]
    assert _paid_to(basket, suppliers["Quillfen"]) > _paid_to(free, suppliers["Quillfen"])
    assert Decimal(free["cost"]) < Decimal(basket["cost"]) <= Decimal("1.6") * Decimal(free["cost"])
    assert any("preferred_supplier" in line["reasons"] for line in basket["dearer"])


def _paid_to(basket: dict[str, Any], supplier: str) -> Decimal:
    paid = (
        Decimal(o["goods"]) + Decimal(o["delivery"]) for o in basket["orders"] if o["supplier"] == supplier
    )
    return sum(paid, Decimal(0))


def test_only_preferred_suppliers_say_what_they_do_not_sell(
    demo: Office, job: dict[str, Any], suppliers: dict[str, str]
) -> None:
    errors = refused(demo, job, buying={"mode": "preferred_only", "preferred": [suppliers["Third"]]})
    assert {error["pointer"] for error in errors} == {"/buying/preferred"}
    everyone = {"mode": "preferred_only", "preferred": list(suppliers.values())}
    assert made(demo, job, buying=everyone)["basket"] == made(demo, job)["basket"]


def test_who_cannot_deliver_before_the_start_is_out_and_told(
    demo: Office, job: dict[str, Any], suppliers: dict[str, str]
) -> None:
    late = demo.get(f"/v1/suppliers/{suppliers['Third']}")
    body = {k: v for k, v in late.json.items() if k not in ("id", "created_at", "archived_at")}
    changed = demo.put(
        f"/v1/suppliers/{suppliers['Third']}", {**body, "lead_time_days": 30}, If_Match=late.headers["ETag"]
    )
    assert changed.status_code == 200, changed.text
    soon = (date.today() + timedelta(days=10)).isoformat()  # noqa: DTZ011  (ten days bear a zone's shift)
    errors = refused(demo, job, start_date=soon)
    assert {error["pointer"] for error in errors} == {"/start_date"}
    assert all("before the start date" in error["detail"] for error in errors)
    later = (date.today() + timedelta(days=40)).isoformat()  # noqa: DTZ011  (as above)
    assert made(demo, job, start_date=later)["basket"]["excluded"] == []
    (error,) = refused(demo, job, start_date="2020-01-01")
    assert error["pointer"] == "/start_date"


@pytest.mark.parametrize(
    ("buying", "at"),
    [
        ({"max_suppliers": 0}, "/buying/max_suppliers"),
        ({"mode": "dearest"}, "/buying/mode"),
        ({"preferred": ["018f6f2e-3c4d-7a1b-9c2d-3e4f5a6b7c8d"]}, "/buying/preferred/0"),
        ({"mode": "preferred_only"}, "/buying/preferred"),
        ({"tolerated_extra_percent": "101"}, "/buying/tolerated_extra_percent"),
        ({"cheapest": True}, "/buying/cheapest"),
    ],
)
def test_what_cannot_be_asked_is_named(
    demo: Office, job: dict[str, Any], buying: dict[str, Any], at: str
) -> None:
    (error,) = refused(demo, job, buying=buying)
    assert error["pointer"] == at


def test_the_terms_say_how_to_buy_where_the_request_does_not(
    demo: Office, job: dict[str, Any], suppliers: dict[str, str]
) -> None:
    terms = {"name": "One supplier only", "buying": {"max_suppliers": 1}, "allowances": []}
    terms["allowances"] = [{"role": "grout", "unit": "kg", "price": "6.00"}]
    made_terms = demo.post("/v1/terms", terms)
    assert made_terms.status_code == 201, made_terms.text
    assert made_terms.json["buying"] == {"max_suppliers": 1}
    (error,) = refused(demo, job, terms_id=made_terms.json["id"])
    assert error["pointer"] == "/buying/max_suppliers"
    assert made(demo, job, terms_id=made_terms.json["id"], buying={"max_suppliers": 3})["basket"]
