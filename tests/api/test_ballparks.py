"""Ballparks over HTTP: answered from the demo's models, to pages that may ask, within quotas."""

from __future__ import annotations

import base64
import json
import re
import zlib
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import Engine

from service import create_app
from service.demo.seed import ORGANISATION
from service.settings import Settings
from tests.api import conformance
from tests.api.conftest import Office, app, demo, operations, settings

__all__ = ["app", "demo", "operations", "settings"]
PAGE = "https://floors.example.com"
ASKED = {"area_m2": 6, "room_kind": "bathroom"}


def ask(client: FlaskClient, key: str, body: Any, origin: str | None = None) -> Any:
    headers = {"Authorization": f"Bearer {key}"} | ({"Origin": origin} if origin else {})
    answer = client.post("/v1/ballparks", json=body, headers=headers)
    conformance.check("POST", "/v1/ballparks", answer)
    return answer


@pytest.fixture
def page_key(demo: Office) -> str:
    made = demo.post("/v1/keys", {"name": "Web page", "scopes": ["ballpark"], "origins": [PAGE]})
    assert (made.status_code, made.json["publishable"]) == (201, True)
    return str(made.json["key"])


def test_a_range_with_what_would_narrow_it(demo: Office) -> None:
    told = demo.post("/v1/ballparks", ASKED)
    assert told.status_code == 200, told.text
    low, likely, high = (float(told.json[name]) for name in ("low", "likely", "high"))
    assert 0 < low < likely < high
    assert told.json["ask_next"] not in (None, "area_m2", "room_kind")
    assert told.json["narrows_to_percent"] < told.json["width_percent"]
    assert (told.json["currency"], told.json["tax_included"]) == ("USD", True)


def test_a_publishable_key_opens_ballparks_alone_and_to_its_pages_alone(
    client: FlaskClient, page_key: str
) -> None:
    assert ask(client, page_key, ASKED, PAGE).headers["Access-Control-Allow-Origin"] == PAGE
    for origin in (None, "https://other.example.com", f"{PAGE}.evil.example", "null"):
        refused = ask(client, page_key, ASKED, origin)
        assert (refused.status_code, refused.json["type"]) == (403, "/problems/origin-refused")
        assert "Access-Control-Allow-Origin" not in refused.headers
    for path in ("/v1/quotes", "/v1/products", "/v1/keys"):
        answer = client.get(path, headers={"Authorization": f"Bearer {page_key}", "Origin": PAGE})
        assert answer.status_code == 403
        assert "Access-Control-Allow-Origin" not in answer.headers


def test_a_browser_is_told_beforehand_whether_its_page_may_ask(client: FlaskClient, page_key: str) -> None:
    """The preflight of the Fetch standard, which carries no key."""
    asked = {"Access-Control-Request-Method": "POST", "Access-Control-Request-Headers": "authorization"}
    allowed = client.options("/v1/ballparks", headers={"Origin": PAGE, **asked})
    assert allowed.status_code == 204
    assert allowed.headers["Access-Control-Allow-Origin"] == PAGE
    assert "POST" in allowed.headers["Access-Control-Allow-Methods"]
    assert "authorization" in allowed.headers["Access-Control-Allow-Headers"].lower()
    assert "Origin" in str(allowed.vary)
    assert "Access-Control-Allow-Credentials" not in allowed.headers
    refused = client.options("/v1/ballparks", headers={"Origin": "https://other.example.com", **asked})
    assert "Access-Control-Allow-Origin" not in refused.headers
    elsewhere = client.options("/v1/quotes", headers={"Origin": PAGE, **asked})
    assert "Access-Control-Allow-Origin" not in elsewhere.headers


@pytest.mark.parametrize(
    ("body", "where"),
    [
        ({"area_m2": 0}, "/area_m2"),
        ({"area_m2": "6"}, "/area_m2"),
        ({"length": 3000}, "/width"),
        ({"length": 3000, "width": 2000, "area_m2": 20}, "/area_m2"),
        ({"room_kind": "cellar"}, "/room_kind"),
        ({"exposure": "exterior"}, "/exposure"),
        ({"margin": 1}, "/margin"),
    ],
)
def test_bad_input_is_named_by_pointer(demo: Office, body: Any, where: str) -> None:
    refused = demo.post("/v1/ballparks", body)
    assert (refused.status_code, refused.json["errors"][0]["pointer"]) == (422, where)


def test_bodies_are_small_and_json(demo: Office, client: FlaskClient) -> None:
    headers = {"Authorization": f"Bearer {demo.key}"}
    large = client.post("/v1/ballparks", json={"postcode": "9" * 5000}, headers=headers)
    assert large.status_code == 413
    assert client.post("/v1/ballparks", data="area_m2=6", headers=headers).status_code == 415
    assert client.post("/v1/ballparks", json=ASKED).status_code == 401


FORBIDDEN = re.compile(
    r"cost|margin|markup|supplier|contingency|discount|wholesale|Quillfen|Ostrey|Third Bridge|sql|traceback",
    re.I,
)


def test_nothing_of_costs_or_suppliers_in_any_answer_or_refusal(demo: Office, client: FlaskClient) -> None:
    """Every member of the answers to all cases below, names and values, and what the token reveals."""
    bodies: list[Any] = [
        ASKED,
        {},
        {**ASKED, "heating": "electric", "existing_covering": "tile", "exposure": "wet"},
        {"area_m2": -1},
        {"room_kind": 5},
        {"region": "Nowhere"},
        [],
        "text",
    ]
    for body in bodies:
        told = demo.post("/v1/ballparks", body)
        assert not FORBIDDEN.search(told.text), told.text
        if told.status_code == 200:
            revealed = json.loads(base64_of(told.json["token"]))
            assert revealed.keys() == {"answers", "low", "likely", "high", "currency", "price_date"}
            assert str(ORGANISATION) not in str(revealed)
    for headers in ({}, {"Authorization": "Bearer nobody"}):
        assert not FORBIDDEN.search(client.post("/v1/ballparks", json=ASKED, headers=headers).text)


def base64_of(token: str) -> bytes:
    """The readable part of a signed token, inflated where it was packed."""
    part = token.lstrip(".").split(".")[0]
    raw = base64.urlsafe_b64decode(part + "=" * (-len(part) % 4))
    return zlib.decompress(raw) if token.startswith(".") else raw


def test_quotas_by_address_and_by_key(settings: Settings, demo: Office, live_engine: Engine) -> None:
    app = create_app(replace(settings, ballparks_per_address=3, ballparks_per_key=5), live_engine)
    client = app.test_client()
    for left in (2, 1, 0):
        told = ask(client, demo.key, ASKED)
        assert told.headers["RateLimit-Policy"] == '"address";q=3;w=60, "key";q=5;w=60'
        assert told.headers["RateLimit"].startswith(f'"address";r={left};t=')
    refused = ask(client, demo.key, ASKED)
    assert refused.status_code == 429
    assert 1 <= int(refused.headers["Retry-After"]) <= 60
    elsewhere = {"REMOTE_ADDR": "192.0.2.7"}
    statuses = [
        client.post(
            "/v1/ballparks",
            json=ASKED,
            headers={"Authorization": f"Bearer {demo.key}"},
            environ_base=elsewhere,
        ).status_code
        for _ in range(3)
    ]
    assert statuses == [200, 200, 429]


def test_behind_proxies_the_caller_is_counted_and_not_the_proxy(
    settings: Settings, demo: Office, live_engine: Engine
) -> None:
    """What the caller itself wrote into X-Forwarded-For stands further left and counts for nothing; a proxy
    that is none of ours is a caller. Addresses of one IPv6 network count together."""
    behind = replace(settings, trusted_proxies=1, ballparks_per_address=1)
    client = create_app(behind, live_engine).test_client()

    def status(peer: str, forwarded: str) -> int:
        headers = {"Authorization": f"Bearer {demo.key}", "X-Forwarded-For": forwarded}
        peer_of = {"REMOTE_ADDR": peer}
        return client.post("/v1/ballparks", json=ASKED, headers=headers, environ_base=peer_of).status_code

    assert status("127.0.0.1", "198.51.100.1") == 200
    assert status("127.0.0.1", "203.0.113.99, 198.51.100.1") == 429
    assert status("127.0.0.1", "198.51.100.2") == 200
    assert status("127.0.0.1", "2001:db8:1:2::1") == 200
    assert status("127.0.0.1", "2001:db8:1:2:ffff::2") == 429
    assert status("192.0.2.200", "198.51.100.3") == 200
    assert status("192.0.2.200", "198.51.100.4") == 429


def test_a_page_may_read_why_it_was_refused(settings: Settings, demo: Office, live_engine: Engine) -> None:
    client = create_app(replace(settings, ballparks_per_address=2), live_engine).test_client()
    for status in (401, 401, 429):
        refused = client.post(
            "/v1/ballparks", json=ASKED, headers={"Origin": PAGE, "Authorization": "Bearer x"}
        )
        assert refused.status_code == status
        assert refused.headers["Access-Control-Allow-Origin"] == PAGE
        assert "Retry-After" in refused.headers["Access-Control-Expose-Headers"]


def test_a_filled_trap_gets_an_answer_whose_token_leads_nowhere(demo: Office) -> None:
    told = demo.post("/v1/ballparks", {**ASKED, "website": "http://spam.example"})
    assert told.status_code == 200
    refused = demo.post("/v1/quotes", {"ballpark_token": told.json["token"]})
    assert (refused.status_code, refused.json["errors"][0]["pointer"]) == (422, "/ballpark_token")


def test_the_office_makes_a_quote_of_the_token(demo: Office, new_office: Callable[..., Office]) -> None:
    said = {**ASKED, "exposure": "wet", "tile_size": "medium"}
    told = demo.post("/v1/ballparks", said)
    quote = demo.post("/v1/quotes", {"ballpark_token": told.json["token"], "customer": {"name": "Invented"}})
    assert quote.status_code == 201, quote.text
    assert quote.json["ballpark"]["answers"] == said
    assert quote.json["ballpark"]["low"] == told.json["low"]
    assert any("doorway" in line for line in quote.json["ballpark"]["assumed"])
    room = quote.json["rooms"][0]
    assert room["measures"]["floor_area_m2"] == pytest.approx(6, abs=0.01)
    again = demo.get(f"/v1/quotes/{quote.json['id']}")
    assert again.json["ballpark"] == quote.json["ballpark"]
    customers = demo.get(f"/v1/quotes/{quote.json['id']}?view=customer")
    assert "ballpark" not in customers.json
    other = new_office().post("/v1/quotes", {"ballpark_token": told.json["token"]})
    assert (other.status_code, other.json["errors"][0]["pointer"]) == (422, "/ballpark_token")
    sizeless = demo.post("/v1/ballparks", {"room_kind": "hall"}).json["token"]
    assert demo.post("/v1/quotes", {"ballpark_token": sizeless}).status_code == 422
    assert demo.post("/v1/quotes", {}).json["errors"][0]["pointer"] == "/rooms"


def test_a_region_pays_its_own_taxes(demo: Office) -> None:
    usual, held, unknown = (
        demo.post("/v1/ballparks", ASKED | region).json
        for region in ({}, {"region": "Sampleland"}, {"region": "Elsewhere"})
    )
    assert float(held["likely"]) > float(usual["likely"])
    assert unknown["likely"] == usual["likely"]
    assert "region_not_held" in {caution["code"] for caution in unknown["cautions"]}


def test_an_office_whose_prices_are_not_learnt_yet_says_so(new_office: Callable[..., Office]) -> None:
    answer = new_office("ballpark").post("/v1/ballparks", ASKED)
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "60")


def test_keys_for_pages_have_origins_and_one_scope(demo: Office) -> None:
    wide = demo.post("/v1/keys", {"name": "Page", "scopes": ["ballpark", "quotes"], "origins": [PAGE]})
    assert wide.json["errors"][0]["pointer"] == "/scopes"
    for origin in ("*", "https://*.example.com", "floors.example.com", f"{PAGE}/", "https://a b"):
        bad = demo.post("/v1/keys", {"name": "Page", "scopes": ["ballpark"], "origins": [origin]})
        assert bad.json["errors"][0]["pointer"] == "/origins/0"
