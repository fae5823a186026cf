"""Ballparks over HTTP: answered from the demo's models, to pages that may ask, within quotas."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from tests.api import conformance
from tests.api.conftest import Office, app, demo, settings

__all__ = ["app", "demo", "settings"]
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
