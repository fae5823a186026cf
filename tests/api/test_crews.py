"""Several crews, each with its rates, its size and the price of its hour."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from service.api import examples
from tests.api.conftest import Office


def tables(demo: Office) -> dict[str, Any]:
    (usual,) = demo.get("/v1/labour-rates").json["items"]
    return demo.get(f"/v1/labour-rates/{usual['id']}").json


def second_crew(demo: Office, **change: Any) -> dict[str, Any]:
    kept = {name: value for name, value in tables(demo).items() if name not in {"id", "created_at"}}
    crew = {
        **kept,
        "name": "Evenings",
        "crew_name": "Evening crew",
        "crew": 3,
        "hourly_cost": "51.00",
        **change,
    }
    made = demo.post("/v1/labour-rates", crew)
    assert made.status_code == 201, made.text
    return dict(made.json)


def test_a_quote_asks_for_a_crew(demo: Office) -> None:
    crew = second_crew(demo, hourly_charge="79.50")
    usual = demo.post("/v1/quotes", examples.QUOTE).json
    asked = demo.post("/v1/quotes", {**examples.QUOTE, "crew": "Evening crew"}).json
    assert usual["schedule"]["crew"] == 2
    assert asked["schedule"]["crew"] == 3
    assert asked["versions"]["labour_table"].startswith(crew["id"])
    work = [line for line in asked["lines"] if line["kind"] == "labour"]
    assert {line["cost"] for line in work} == {"51.00"}
    for line in work:
        charged = Decimal(line["quantity"]) * Decimal("79.50")
        assert abs(Decimal(line["price"]) - charged) <= Decimal("0.005")
    gained = [Decimal(usual["totals"][name]) for name in ("net", "tax", "gross")]
    assert gained[0] + gained[1] == gained[2]


def test_a_take_off_asks_for_a_crew(demo: Office) -> None:
    second_crew(demo)
    answer = demo.post("/v1/takeoffs", {**examples.JOB, "crew": "Evening crew"})
    assert answer.json["schedule"]["crew"] == 3


def test_a_crew_without_rates_is_told_by_its_pointer(demo: Office) -> None:
    for path, body in (("/v1/takeoffs", examples.JOB), ("/v1/quotes", examples.QUOTE)):
        answer = demo.post(path, {**body, "crew": "Nobody"})
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/crew")


def test_the_terms_charge_goes_before_the_tables(demo: Office) -> None:
    second_crew(demo, hourly_charge="79.50")
    (terms,) = demo.get("/v1/terms").json["items"]
    where = f"/v1/terms/{terms['id']}"
    body = {name: value for name, value in demo.get(where).json.items() if name not in {"id", "created_at"}}
    assert demo.put(where, {**body, "hourly_charge": "66.00"}, If_Match="*").status_code == 200
    quote = demo.post("/v1/quotes", {**examples.QUOTE, "crew": "Evening crew"}).json
    line = next(line for line in quote["lines"] if line["kind"] == "labour")
    assert abs(Decimal(line["price"]) - Decimal(line["quantity"]) * 66) <= Decimal("0.005")


def test_a_charge_is_explained(demo: Office) -> None:
    second_crew(demo, hourly_charge="79.50")
    quote = demo.post("/v1/quotes", {**examples.QUOTE, "crew": "Evening crew"}).json
    place = next(n for n, line in enumerate(quote["lines"]) if line["kind"] == "labour")
    answer = demo.get(f"/v1/quotes/{quote['id']}/explanation?figure=/lines/{place}/price")
    assert answer.status_code == 200, answer.text
    assert "charge for an hour" in answer.text


def test_variants_are_compared_for_a_crew(demo: Office) -> None:
    second_crew(demo, hourly_charge="79.50")
    usual = demo.post("/v1/variants", examples.VARIANTS).json["variants"][0]
    asked = demo.post("/v1/variants", {**examples.VARIANTS, "crew": "Evening crew"}).json["variants"][0]
    assert asked["totals"]["labour"] != usual["totals"]["labour"]
