"""Names that are markup, wherever a name can be given: kept as they are and never anything but text."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from typing import Any
from xml.etree import ElementTree

import pytest
from flask.testing import FlaskClient

from service.api import examples
from tests.api.conftest import Office

HOSTILE = '</text></svg><script>alert("1")</script><svg onload=alert(1)> & "\' {{7*7}} \u202e'


class Tags(HTMLParser):
    """The tags of a page and the attributes that would run something."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.handlers: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.handlers += [name for name, _ in attrs if name.startswith("on")]


def hostile(example: Any) -> Any:
    """The body with every name in it replaced."""
    if isinstance(example, list):
        return [hostile(each) for each in example]
    if not isinstance(example, dict):
        return example
    names = ("name", "note", "line", "city")
    return {name: HOSTILE if name in names else hostile(value) for name, value in example.items()}


@pytest.fixture
def quote(demo: Office) -> dict[str, Any]:
    body = hostile(json.loads(json.dumps(examples.QUOTE)))
    made = demo.post("/v1/quotes", body)
    assert made.status_code == 201, made.text
    assert made.json["rooms"][0]["name"] == HOSTILE
    return dict(made.json)


def test_a_plan_and_a_document_show_hostile_names_as_text(demo: Office, quote: dict[str, Any]) -> None:
    where = f"/v1/quotes/{quote['id']}"
    plan = demo.get(f"{where}/plan?room=0")
    tags = {element.tag.rpartition("}")[2] for element in ElementTree.fromstring(plan.data).iter()}  # noqa: S314
    assert plan.mimetype == "image/svg+xml"
    assert "script" not in tags
    assert plan.headers["Content-Security-Policy"].startswith("default-src 'none'")
    page = demo.get(f"{where}/document", Accept="text/html")
    found = Tags(page.text)
    assert "script" not in found.tags
    assert found.handlers == []
    assert "49" not in page.text.split("{{7*7}}")[0][-5:], "no template reads a name"
    assert "{{7*7}}" in page.text
    for sheet in ("purchase-list", "pick-list", "crew-sheet"):
        assert demo.get(f"{where}/{sheet}").mimetype == "application/json"


@pytest.mark.parametrize("member", ["key", "locale", "theme", "region"])
def test_the_form_writes_nothing_of_its_address_as_markup(client: FlaskClient, member: str) -> None:
    plain = client.get("/ballpark", query_string={"key": "pub_x"})
    asked = client.get("/ballpark", query_string={"key": "pub_x", member: f'"><script>x</script>{HOSTILE}'})
    if asked.status_code == 200:
        assert sorted(Tags(asked.text).tags) == sorted(Tags(plain.text).tags)
        assert Tags(asked.text).handlers == []
    else:
        assert asked.mimetype in {"application/problem+json", "text/html"}
        assert "<script>" not in asked.text or asked.mimetype == "application/problem+json"


@pytest.mark.parametrize("bad", ["a\x00b", "\ud800", "x" * 10_001])
@pytest.mark.parametrize("path", ["/v1/customers", "/v1/suppliers", "/v1/keys", "/v1/terms"])
def test_no_name_holds_what_is_no_text(office: Office, path: str, bad: str) -> None:
    refused = office.client.post(
        path,
        data=json.dumps({"name": bad}),
        content_type="application/json",
        headers={"Authorization": f"Bearer {office.key}"},
    )
    assert refused.status_code == 422
    assert "/name" in {fault.get("pointer") for fault in refused.json["errors"]}
