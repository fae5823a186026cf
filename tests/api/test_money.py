"""Exchange rates and taxes over HTTP: dated rows, of which the latest holds, corrected by newer ones."""

from __future__ import annotations

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
