"""A quote that outlives the prices it was made with says so, with what is known to come."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from tests.api.conftest import Office
from tests.api.test_buying import made
from tests.api.test_job_offers import offer


def told(quote: dict[str, Any]) -> list[str]:
    return [one["message"] for one in quote["notices"] if one["rule"] == "prices_change_first"]


def grout_of(quote: dict[str, Any]) -> dict[str, Any]:
    return next(line for line in quote["lines"] if line["role"] == "grout")


def test_an_agreement_that_ends_and_a_list_to_come_are_told_with_old_and_new(
    demo: Office, job: dict[str, Any]
) -> None:
    before = made(demo, job)
    assert told(before) == []
    line, today = grout_of(before), date.fromisoformat(before["price_date"])
    price = Decimal(line["cost"])
    grant = {
        "supplier_id": line["supplier"],
        "name": "Letter",
        "product_id": line["product"],
        "percent": "10",
    }
    last = today + timedelta(days=3)
    period = {"valid_from": today.isoformat(), "valid_until": last.isoformat()}
    assert demo.post("/v1/agreements", {**grant, **period}).status_code == 201
    head = {"supplier_id": line["supplier"], "name": "To come", "kind": "promotion", "priority": 9}
    begins = today + timedelta(days=7)
    where = demo.post("/v1/price-lists", {**head, "valid_from": begins.isoformat()}).headers["Location"]
    item = {"product_id": line["product"], "pack_size": line["pack_size"], "price": str(price * 2)}
    assert demo.put(f"{where}/items", {"items": [item]}, If_Match="*").status_code == 200
    assert demo.post(f"{where}/activate", {"confirm_jumps": True}, If_Match="*").status_code == 200

    quote = made(demo, job)
    cheaper = price * 90 / 100
    assert Decimal(grout_of(quote)["cost"]) == cheaper
    first, second = told(quote)
    assert f"change on {last + timedelta(days=1)}" in first
    assert f"from {cheaper.normalize():f} " in first
    assert f"to {price.normalize():f} " in first
    assert f"change on {begins}" in second
    assert f"from {price.normalize():f} " in second
    assert f"to {(price * 2).normalize():f} " in second
    assert told(made(demo, job, valid_days=3)) == []


def test_an_offer_for_one_job_that_ends_is_told(demo: Office, job: dict[str, Any]) -> None:
    before = made(demo, job)
    line, today = grout_of(before), date.fromisoformat(before["price_date"])
    offer(demo, line, "J-5", today, today + timedelta(days=2))
    quote = made(demo, job, job_offers=["J-5"])
    (message,) = told(quote)
    price = Decimal(line["cost"])
    assert f"from {(price / 2).normalize():f} " in message
    assert f"to {price.normalize():f} " in message
    assert any(one["rule"] == "prices_end_first" for one in quote["notices"])
