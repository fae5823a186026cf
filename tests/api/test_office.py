"""Labour tables, terms and trade values over HTTP."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from service.api import examples
from service.trade.values import load_trade_values
from tests.api.conftest import Office


class TestLabourRates:
    def test_a_table_lives_from_post_to_delete(self, office: Office) -> None:
        made = office.post("/v1/labour-rates", examples.LABOUR_TABLE)
        assert made.status_code == 201, made.text
        where = made.headers["Location"]
        assert made.json["rates"] == examples.LABOUR_TABLE["rates"]
        assert office.get(where).json == made.json

        rates = [{"activity": "grout", "driver": "metres", "unit": "m", "hours": "0.02"}]
        changed = office.put(where, {**examples.LABOUR_TABLE, "rates": rates}, If_Match='"v1"')
        assert (changed.status_code, changed.headers["ETag"]) == (200, '"v2"'), changed.text
        assert office.get(where).json["rates"] == rates, "the former rates are gone"

        (listed,) = office.get("/v1/labour-rates").json["items"]
        assert (listed["id"], "rates" in listed) == (made.json["id"], False)
        assert office.delete(where, If_Match='"v2"').status_code == 204
        assert office.get(where).status_code == 404

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"crew": 0}, "/crew"),
            ({"productive_hours_per_day": "0"}, "/productive_hours_per_day"),
            ({"rates": []}, "/rates"),
            ({"rates": [*examples.LABOUR_TABLE["rates"]] * 2}, "/rates/1/activity"),
            ({"rates": [{**examples.LABOUR_TABLE["rates"][0], "driver": "mood"}]}, "/rates/0/driver"),
            ({"rates": [{**examples.LABOUR_TABLE["rates"][0], "hours": "-1"}]}, "/rates/0/hours"),
        ],
    )
    def test_a_wrong_field_is_told_and_nothing_stored(
        self, office: Office, change: dict, pointer: str
    ) -> None:
        answer = office.post("/v1/labour-rates", {**examples.LABOUR_TABLE, **change})
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)
        assert office.get("/v1/labour-rates").json["items"] == []


class TestTerms:
    def test_terms_come_back_as_they_were_sent(self, office: Office) -> None:
        made = office.post("/v1/terms", examples.TERMS)
        assert made.status_code == 201, made.text
        read = office.get(made.headers["Location"])
        assert read.json == made.json
        for name in examples.TERMS.keys() - {"rounding"}:
            assert read.json[name] == examples.TERMS[name]

    def test_there_is_one_default_at_most(self, office: Office) -> None:
        first = office.post("/v1/terms", examples.TERMS)
        second = office.post("/v1/terms", {**examples.TERMS, "name": "Trade terms"})
        assert second.status_code == 201, second.text
        defaults = {item["name"]: item["is_default"] for item in office.get("/v1/terms").json["items"]}
        assert defaults == {"Standard terms": False, "Trade terms": True}
        back = office.put(first.headers["Location"], examples.TERMS, If_Match="*")
        assert back.json["is_default"]
        assert not office.get(second.headers["Location"]).json["is_default"]

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"contingency_percent": 3}, "/contingency_percent"),
            ({"discount_percent": "101"}, "/discount_percent"),
            ({"uplifts": {"tile": {"method": "margin", "percent": "100"}}}, "/uplifts/tile/percent"),
            ({"uplifts": {"luck": {"method": "markup", "percent": "1"}}}, "/uplifts/luck"),
            ({"stages": [{"name": "a", "percent": "60"}, {"name": "b", "percent": "41"}]}, "/stages"),
            ({"stages": [{"name": "a", "percent": "71"}]}, "/stages"),
            ({"taxes": [{"name": "x", "percent": "20", "base": "air"}]}, "/taxes/0/base"),
            ({"tax_region": "Sampleland"}, "/tax_region"),
            ({"minimum_charge": 150}, "/minimum_charge"),
            ({"rounding": {"per": "room"}}, "/rounding/per"),
            ({"rounding": {"minor": 9}}, "/rounding/minor"),
        ],
    )
    def test_a_wrong_field_is_told_by_its_pointer(self, office: Office, change: dict, pointer: str) -> None:
        answer = office.post("/v1/terms", {**examples.TERMS, **change})
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, pointer)

    def test_pricing_reads_what_was_stored(self, office: Office, live_engine: Any) -> None:
        from uuid import UUID

        from service.store import keys as key_store
        from service.store.session import open_session
        from service.store.terms import terms_by_id
        from tests.conftest import PEPPER

        made = office.post("/v1/terms", examples.TERMS)
        with open_session(live_engine) as session:
            key_store.key_in_force(session, office.key, PEPPER)
            terms = terms_by_id(session, UUID(made.json["id"]))
        assert terms is not None
        assert str(terms.contingency_percent) == "3"
        assert terms.uplifts["labour"].method == "margin"
        assert [stage.name for stage in terms.stages] == ["On start", "On completion"]


def own_key() -> tuple[str, float]:
    """A number that an office may set for itself, whichever the data files hold today."""
    from datetime import UTC, datetime

    values = load_trade_values("us", datetime.now(UTC).date()).by_key.values()
    key = min(v.key for v in values if isinstance(v.value, float) and v.tag != "standard" and v.value > 0)
    return key, load_trade_values("us", datetime.now(UTC).date()).number(key)


class TestTradeValues:
    def test_every_value_tells_its_unit_source_and_tag(self, office: Office) -> None:
        listed = office.get("/v1/trade-values").json
        assert listed["standards"] == "us"
        assert len(listed["items"]) > 10
        assert all(item["source"] and item["tag"] and item["unit"] for item in listed["items"])
        assert office.get("/v1/trade-values?standards=de").json["standards"] == "de"

    def test_an_edition_is_listed_by_the_name_that_a_take_off_gives_it(self, office: Office) -> None:
        now = office.get("/v1/trade-values?standards=de").json
        assert office.get(f"/v1/trade-values?edition={now['edition']}").json == now

    @pytest.mark.parametrize("query", ["edition=2026-01-01", "edition=2026-13-01/us", "edition=x/us"])
    def test_what_names_no_edition_is_refused(self, office: Office, query: str) -> None:
        answer = office.get(f"/v1/trade-values?{query}")
        assert (answer.status_code, answer.json["errors"][0]["parameter"]) == (422, "edition")

    def test_an_edition_stands_alone(self, office: Office) -> None:
        both = office.get("/v1/trade-values?edition=2026-01-01/us&standards=de")
        assert (both.status_code, both.json["errors"][0]["parameter"]) == (422, "edition")

    def test_an_own_value_stands_until_it_is_dropped(self, new_office: Callable[..., Office]) -> None:
        ours, theirs = new_office(), new_office()
        key, published = own_key()
        where = f"/v1/trade-values/{key}"
        tag = ours.get(where).headers["ETag"]
        own = ours.put(where, {"value": published * 1.5}, If_Match=tag)
        assert own.status_code == 200, own.text
        assert (own.json["value"], own.json["overridden"]) == (published * 1.5, True)
        assert ours.put(where, {"value": published}, If_Match=tag).status_code == 412
        assert theirs.get(where).json["value"] == published

        assert ours.delete(where, If_Match=own.headers["ETag"]).status_code == 204
        assert (ours.get(where).json["value"], ours.get(where).json["overridden"]) == (published, False)
        assert ours.delete(where, If_Match="*").status_code == 404

    def test_a_slip_by_ten_is_refused(self, office: Office) -> None:
        key, published = own_key()
        answer = office.put(f"/v1/trade-values/{key}", {"value": published * 11}, If_Match="*")
        assert (answer.status_code, answer.json["errors"][0]["pointer"]) == (422, "/value")

    def test_the_limit_of_a_standard_is_nobodys_own(self, office: Office) -> None:
        standard = next(i for i in office.get("/v1/trade-values").json["items"] if i["tag"] == "standard")
        answer = office.put(f"/v1/trade-values/{standard['key']}", {"value": 1}, If_Match="*")
        assert answer.status_code == 409

    def test_an_unknown_key_is_404(self, office: Office) -> None:
        assert office.get("/v1/trade-values/no.such").status_code == 404
        assert office.put("/v1/trade-values/no.such", {"value": 1}, If_Match="*").status_code == 404
