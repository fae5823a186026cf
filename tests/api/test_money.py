"""Exchange rates and taxes over HTTP: dated rows, of which the latest holds, corrected by newer ones."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from service.api import examples
from tests.api.conftest import Office

RATES, TAXES = "/v1/exchange-rates", "/v1/taxes"


def add_rate(office: Office, rate: str, **other: Any) -> dict[str, Any]:
    made = office.post(RATES, {**examples.EXCHANGE_RATE, "rate": rate, **other})
    assert made.status_code == 201, made.text
    assert office.get(made.headers["Location"]).json == made.json
    told: dict[str, Any] = made.json
    return told


def held(office: Office, query: str) -> list[str]:
    return [item["rate"] for item in office.get(f"{RATES}?{query}").json["items"]]


class TestExchangeRates:
    def test_the_latest_on_or_before_the_day_holds_and_a_newer_row_corrects(self, office: Office) -> None:
        add_rate(office, "1.0825", valid_from="2026-03-02")
        add_rate(office, "1.1", valid_from="2026-04-01")
        add_rate(office, "1.0835", valid_from="2026-03-02")
        assert held(office, "on=2026-03-01") == []
        assert held(office, "on=2026-03-02") == ["1.0835"] == held(office, "on=2026-03-31")
        assert held(office, "on=2026-04-01") == ["1.1"]
        assert sorted(held(office, "limit=200")) == ["1.0825", "1.0835", "1.1"], "nothing is lost"

    def test_pairs_have_a_direction(self, office: Office) -> None:
        add_rate(office, "1.0825")
        add_rate(office, "0.0000000001", from_currency="USD", to_currency="EUR")
        add_rate(office, "0.85", from_currency="EUR", to_currency="GBP")
        assert held(office, "on=2026-03-02&from_currency=EUR&to_currency=USD") == ["1.0825"]
        assert held(office, "from_currency=USD") == ["0.0000000001"]

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"rate": 1.08}, "/rate"),
            ({"rate": "0"}, "/rate"),
            ({"rate": "1.00000000001"}, "/rate"),
            ({"rate": "-1"}, "/rate"),
            ({"to_currency": "EUR"}, "/to_currency"),
            ({"from_currency": "euro"}, "/from_currency"),
            ({"valid_from": "2 March"}, "/valid_from"),
        ],
    )
    def test_a_wrong_field_is_told_and_nothing_stored(
        self, office: Office, change: dict[str, Any], pointer: str
    ) -> None:
        answer = office.post(RATES, {**examples.EXCHANGE_RATE, **change})
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)
        assert held(office, "limit=1") == []


class TestTaxes:
    def test_what_held_on_a_day_is_told_by_region(self, office: Office) -> None:
        first = office.post(TAXES, examples.TAXES)
        assert first.status_code == 201, first.text
        assert first.json["rules"] == examples.TAXES["rules"]
        assert office.get(first.headers["Location"]).json == first.json
        later = {**examples.TAXES, "valid_from": "2026-07-01", "rules": []}
        assert office.post(TAXES, later).status_code == 201
        assert office.post(TAXES, {**examples.TAXES, "region": "Elsewhere"}).status_code == 201

        def rules(day: str, region: str) -> list[int]:
            items = office.get(f"{TAXES}?on={day}&region={region}").json["items"]
            return [len(item["rules"]) for item in items]

        assert rules("2025-12-31", "Sampleland") == []
        assert rules("2026-06-30", "Sampleland") == [2]
        assert rules("2026-07-01", "Sampleland") == [0]
        assert len(office.get(f"{TAXES}?on=2026-07-01").json["items"]) == 2
        assert len(office.get(f"{TAXES}?region=Sampleland").json["items"]) == 2

    @pytest.mark.parametrize(
        ("rule", "pointer"),
        [
            ({"percent": 20}, "/rules/0/percent"),
            ({"percent": "101"}, "/rules/0/percent"),
            ({"base": "air"}, "/rules/0/base"),
            ({"reverse_charge": "yes"}, "/rules/0/reverse_charge"),
        ],
    )
    def test_a_wrong_rule_is_told_and_nothing_stored(
        self, office: Office, rule: dict[str, Any], pointer: str
    ) -> None:
        rules = [{**examples.TAXES["rules"][0], **rule}]
        answer = office.post(TAXES, {**examples.TAXES, "rules": rules})
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)
        assert office.get(TAXES).json["items"] == []


class TestQuotes:
    """The demo's job at rates and taxes of other days and places."""

    def terms(self, demo: Office, **other: Any) -> str:
        body = {name: value for name, value in examples.TERMS.items() if name != "taxes"}
        made = demo.post("/v1/terms", {**body, "name": f"Terms {other}", "is_default": False, **other})
        assert made.status_code == 201, made.text
        return str(made.json["id"])

    def quote(self, demo: Office, **other: Any) -> Any:
        room = {"rectangle": {"length": 3000, "width": 2000}, "tile": {"length": 300, "width": 300}}
        body = {"rooms": [{"name": "Hall", **room}], "price_date": "2026-03-02", **other}
        return demo.post("/v1/quotes", body)

    def test_taxes_are_those_of_the_region_on_the_tax_date(self, demo: Office) -> None:
        terms = self.terms(demo, tax_region="Testland")
        refused = self.quote(demo, terms_id=terms)
        assert (refused.status_code, "Testland" in refused.text) == (409, True), "never taken to be 0"
        row = demo.post(TAXES, {**examples.TAXES, "region": "Testland"}).json
        demo.post(TAXES, {**examples.TAXES, "region": "Testland", "valid_from": "2026-07-01", "rules": []})
        made = self.quote(demo, terms_id=terms).json
        assert made["versions"]["taxes"] == row["id"]
        told = {tax["percent"]: tax for tax in made["totals"]["taxes"]}
        assert told.keys() == {"20", "5.5"}
        assert sum(Decimal(tax["base"]) for tax in told.values()) == Decimal(made["totals"]["net"])
        assert sum(Decimal(tax["amount"]) for tax in told.values()) == Decimal(made["totals"]["tax"])
        later = self.quote(demo, terms_id=terms, tax_date="2026-07-01").json
        assert (later["totals"]["tax"], later["totals"]["net"]) == ("0.00", made["totals"]["net"])

    def test_a_business_customer_accounts_for_a_reversed_tax(self, demo: Office) -> None:
        terms = self.terms(demo, tax_region="Sampleland")
        firm = {"name": "Invented firm", "kind": "business"}
        totals = self.quote(demo, terms_id=terms, customer=firm).json["totals"]
        assert {(tax["reverse_charge"], tax["amount"], tax["percent"]) for tax in totals["taxes"]} == {
            (True, "0.00", "0")
        }
        assert totals["gross"] == totals["net"]

    def test_a_supplier_of_another_currency_needs_a_rate_and_the_line_shows_it(self, demo: Office) -> None:
        supplier = {**examples.SUPPLIER, "name": "Supplier abroad (invented)", "currency": "GBP"}
        seller = demo.post("/v1/suppliers", {**supplier, "delivery_charge": "0"}).json["id"]
        membranes = demo.get("/v1/products?role=membrane").json["items"]
        (membrane,) = [one for one in membranes if one["code"] == "mat-plain"]
        head = {**examples.PRICE_LIST, "supplier_id": seller, "valid_until": None}
        where = demo.post("/v1/price-lists", {**head, "valid_from": "2026-01-01"}).headers["Location"]
        items = [{"product_id": membrane["id"], "pack_size": "30", "price": "0.37"}]
        assert demo.put(f"{where}/items", {"items": items}, If_Match="*").status_code == 200
        assert demo.post(f"{where}/activate", If_Match="*").status_code == 200

        (notice,) = self.quote(demo).json["notices"]
        assert (notice["rule"], "from GBP to USD" in notice["message"]) == ("exchange_rate", True)
        rate = add_rate(demo, "2.15", from_currency="GBP", valid_from="2026-03-01")
        made = self.quote(demo).json
        (line,) = [line for line in made["lines"] if line["supplier"] == seller]
        assert (line["cost"], line["exchange"]["rate"], line["exchange"]["id"]) == (
            "0.7955",
            "2.15",
            rate["id"],
        )
        assert "exchange_rates" in made["versions"]
        assert made["notices"] == []
        customer = demo.get(f"{made['links']['self']}?view=customer")
        assert "2.15" not in customer.text
        add_rate(demo, "2.5", from_currency="GBP", valid_from="2026-03-01")
        assert demo.get(made["links"]["self"]).json["lines"] == made["lines"], "a stored quote stands"

    def test_a_quote_that_outlives_its_prices_says_so_to_the_office_alone(self, demo: Office) -> None:
        suppliers = {item["name"]: item["id"] for item in demo.get("/v1/suppliers").json["items"]}
        (grout, *_) = demo.get("/v1/products?role=grout").json["items"]
        name, seller = sorted(suppliers.items())[0]
        head = {**examples.PRICE_LIST, "supplier_id": seller, "kind": "promotion", "priority": 5}
        soon = (datetime.now(UTC) + timedelta(days=20)).date().isoformat()
        where = demo.post("/v1/price-lists", {**head, "valid_until": soon}).headers["Location"]
        items = [{"product_id": grout["id"], "pack_size": "5", "price": "0.01"}]
        assert demo.put(f"{where}/items", {"items": items}, If_Match="*").status_code == 200
        accepted = demo.post(f"{where}/activate", {"confirm_jumps": True}, If_Match="*")
        assert accepted.status_code == 200, accepted.json
        assert self.quote(demo, valid_days=10).json["notices"] == []
        made = self.quote(demo, valid_days=40).json
        (notice,) = made["notices"]
        assert notice["rule"] == "prices_end_first"
        assert all(word in notice["message"] for word in (name, soon, made["valid_until"]))
        assert "notices" not in demo.get(f"{made['links']['self']}?view=customer").json
