"""Offers for one job, named by their references in a quote's request."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from tests.api.conftest import Office
from tests.api.test_buying import made, refused


def offer(demo: Office, line: dict[str, Any], reference: str, first: date, last: date) -> str:
    """An active list with half the price of a line's packs."""
    head = {
        "supplier_id": line["supplier"],
        "name": f"Offer {reference}",
        "kind": "job_offer",
        "reference": reference,
        "valid_from": first.isoformat(),
        "valid_until": last.isoformat(),
        "priority": 9,
    }
    item = {
        "product_id": line["product"],
        "pack_size": line["pack_size"],
        "price": str(Decimal(line["cost"]) / 2),
    }
    added = demo.post("/v1/price-lists", head)
    assert added.status_code == 201, added.text
    here = f"/v1/price-lists/{added.json['id']}"
    assert demo.put(f"{here}/items", {"items": [item]}, If_Match="*").status_code == 200
    active = demo.post(f"{here}/activate", {"confirm_jumps": True}, If_Match="*")
    assert active.status_code == 200, active.text
    return str(added.json["id"])


def test_an_offer_counts_where_its_reference_is_named(demo: Office, job: dict[str, Any]) -> None:
    before = made(demo, job)
    line = next(line for line in before["lines"] if line["role"] == "grout")
    today = date.fromisoformat(before["price_date"])
    list_id = offer(demo, line, "J-17", today, today + timedelta(days=30))
    offer(demo, line, "J-16", today - timedelta(days=9), today - timedelta(days=1))

    assert made(demo, job)["totals"] == before["totals"]
    quote = made(demo, job, job_offers=["J-17"])
    (cheap,) = (one for one in quote["lines"] if one["price_list"] == list_id)
    assert (cheap["product"], Decimal(cheap["cost"])) == (line["product"], Decimal(line["cost"]) / 2)
    assert quote == demo.get(quote["links"]["self"]).json

    (unknown,) = refused(demo, job, job_offers=["J-17", "J-99"])
    assert unknown["pointer"] == "/job_offers/1"
    (expired,) = refused(demo, job, job_offers=["J-16"])
    assert (expired["pointer"], "does not hold" in expired["detail"]) == ("/job_offers/0", True)
