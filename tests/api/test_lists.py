"""Purchase list, pick list and crew sheet of the demo's quote over HTTP."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from typing import Any

import pytest

from service.api.framework.tables import cell
from service.demo.run import demo_job
from service.store.ids import new_id
from tests.api.conftest import Office

CSV = "text/csv"


@pytest.fixture
def quote(demo: Office, demo_tiles: dict[str, str]) -> dict[str, Any]:
    made: dict[str, Any] = demo.post("/v1/quotes", demo_job(demo_tiles)).json
    return made


def rows_of(answer: Any) -> list[dict[str, str]]:
    assert answer.mimetype == CSV
    return list(csv.DictReader(io.StringIO(answer.text)))


def test_the_purchase_list_is_the_quotes_materials_and_deliveries(
    demo: Office, quote: dict[str, Any]
) -> None:
    where = f"/v1/quotes/{quote['id']}/purchase-list"
    found = demo.get(f"{where}?needed_by=2026-12-18").json
    goods = [Decimal(order["goods"]) for order in found["orders"]]
    chosen = sum(Decimal(line["amount"]) for line in found["to_choose"])
    assert sum(goods) + chosen == Decimal(quote["totals"]["materials"])
    assert sum(Decimal(order["delivery"]) for order in found["orders"]) == Decimal(
        quote["totals"]["delivery"]
    )
    for order in found["orders"]:
        assert sum(Decimal(line["amount"]) for line in order["lines"]) == Decimal(order["goods"])
        assert all(
            line["packs"] * Decimal(line["cost"]) == Decimal(line["amount"]) for line in order["lines"]
        )
        assert all(line["supplier_code"] and line["split"] is False for line in order["lines"])

    one = found["orders"][0]
    only = demo.get(f"{where}?supplier={one['supplier']}").json
    assert [order["supplier"] for order in only["orders"]] == [one["supplier"]]
    assert only["orders"][0]["order_by"] is None
    table = rows_of(demo.get(where, Accept=CSV))
    amounts = sum(Decimal(row["amount"]) for row in table)
    assert amounts == Decimal(quote["totals"]["materials"]) + Decimal(quote["totals"]["delivery"])
    assert demo.get(f"{where}?supplier={new_id()}").status_code == 404
    assert demo.get(f"/v1/quotes/{new_id()}/purchase-list").status_code == 404
    assert demo.get(where, Accept="image/png").status_code == 406


def test_goods_are_ordered_a_lead_time_before_they_are_needed(demo: Office, quote: dict[str, Any]) -> None:
    where = f"/v1/quotes/{quote['id']}/purchase-list?needed_by=2026-12-18"
    supplier = demo.get(where).json["orders"][0]["supplier"]
    read = demo.get(f"/v1/suppliers/{supplier}")
    writable = ("name", "currency", "delivery_charge", "free_delivery_over")
    body = {name: read.json[name] for name in writable} | {"name": "=HYPERLINK(1)", "lead_time_days": 20}
    assert demo.put(f"/v1/suppliers/{supplier}", body, If_Match=read.headers["ETag"]).status_code == 200
    order = demo.get(where).json["orders"][0]
    assert (order["lead_time_days"], order["order_by"]) == (20, "2026-11-28")


def test_a_text_that_looks_like_a_formula_is_none_in_the_table() -> None:
    for text in ("=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "  =1", "＝1"):
        assert cell(text) == f"'{text}"
    for value in ("Grout, 5 kg", "3 x 5 kg", -3, Decimal("-1.5")):
        assert cell(value) == value


def test_the_pick_list_has_all_that_is_needed_room_by_room(demo: Office, quote: dict[str, Any]) -> None:
    where = f"/v1/quotes/{quote['id']}/pick-list"
    found = demo.get(where).json
    assert [room["room"] for room in found["rooms"]] == ["Utility room", "Bathroom", "Kitchen", None]
    needed: dict[str, Decimal] = {}
    for room in found["rooms"]:
        for item in room["items"]:
            needed[item["role"]] = needed.get(item["role"], Decimal(0)) + Decimal(item["quantity"])
    for role, quantity in needed.items():
        told = sum(m["with_allowance"] for m in quote["materials"] if m["role"] == role)
        assert float(quantity) == pytest.approx(told, abs=0.003)
    mortar = next(item for item in found["rooms"][0]["items"] if item["role"] == "membrane_mortar")
    assert mortar["packs"]
    lines = [line for line in quote["lines"] if line["description"] == mortar["description"]]
    assert [(p["packs"], p["pack_size"]) for p in mortar["packs"]] == [
        (x["packs"], x["pack_size"]) for x in lines
    ]
    assert set(mortar["shared_with"]) == set(lines[0]["rooms"]) - {"Utility room"}
    table = rows_of(demo.get(where, Accept=CSV))
    assert len(table) == sum(len(room["items"]) for room in found["rooms"])


def test_the_crew_sheet_says_what_to_cut_mix_and_do(demo: Office, quote: dict[str, Any]) -> None:
    sheet = demo.get(f"/v1/quotes/{quote['id']}/crew-sheet").json
    assert [room["name"] for room in sheet["rooms"]] == [room["name"] for room in quote["rooms"]]
    assert all(room["cut_list"] for room in sheet["rooms"])
    assert sheet["tools"] == quote["tools"]
    assert sheet["schedule"] == quote["schedule"]
    hours = sum(line["hours"] for stage in sheet["stages"] for line in stage["work"])
    assert hours == pytest.approx(quote["labour_hours"]["total"])
    for mixing in sheet["mixing"]:
        powder = sum(batch["count"] * batch["powder_kg"] for batch in mixing["batches"])
        assert powder == pytest.approx(mixing["powder_kg"], abs=0.01)
        assert mixing["water_source"]


def test_the_crew_sheet_is_in_the_language_asked_for(demo: Office, quote: dict[str, Any]) -> None:
    where = f"/v1/quotes/{quote['id']}/crew-sheet"
    english, german = demo.get(where).json, demo.get(f"{where}?locale=de").json
    assert "Zahnkelle für Fliesen: Zahnung vierkantig" in "".join(german["tools"])
    for name in ("tools", "cautions"):
        assert len(german[name]) == len(english[name])
        assert set(german[name]).isdisjoint(english[name])
    for ours, theirs in zip(german["rooms"], english["rooms"], strict=True):
        assert set(ours["conditions"]).isdisjoint(theirs["conditions"])
    assert german["rooms"][0]["cut_list"] == english["rooms"][0]["cut_list"]
    refused = demo.get(f"{where}?locale=tlh")
    assert (refused.status_code, refused.json["errors"][0]["parameter"]) == (422, "locale")


def test_nothing_is_bought_picked_or_done_for_a_refused_floor(
    demo: Office, demo_tiles: dict[str, str]
) -> None:
    job = demo_job(demo_tiles)
    job["rooms"][0]["substrate"]["moisture"] = {"method": "rh", "value": 99.9}
    job["rooms"][2]["substrate"]["deflection"] = 120
    made = demo.post("/v1/quotes", job).json
    assert made["totals"] is None
    where = f"/v1/quotes/{made['id']}"
    for name in ("purchase-list", "pick-list", "crew-sheet"):
        answer = demo.get(f"{where}/{name}")
        assert (answer.status_code, "must not be built" in answer.json["detail"]) == (409, True)


def test_what_a_pack_sent_back_brings_is_told(demo: Office, quote: dict[str, Any]) -> None:
    """Less the supplier's restocking charge; 24.50 less 15 percent is 20.825."""
    where = f"/v1/quotes/{quote['id']}/purchase-list"
    before = demo.get(where).json["orders"][0]
    place = f"/v1/suppliers/{before['supplier']}"
    supplier = {k: v for k, v in demo.get(place).json.items() if k not in ("id", "created_at", "archived_at")}
    assert demo.put(place, {**supplier, "restocking_percent": "15"}, If_Match="*").status_code == 200
    order = demo.get(where).json["orders"][0]
    assert order["restocking_percent"] == "15"
    costs = [Decimal(line["cost"]) for line in order["lines"]]
    assert [Decimal(pack["brings"]) for pack in order["returns"]] == [cost * 85 / 100 for cost in costs]
    table = rows_of(demo.get(where, Accept=CSV))
    assert {row["restocking_percent"] for row in table if row["supplier"] == order["supplier_name"]} == {"15"}
