"""The description keeps its promise to those who call by the one before, or its version says otherwise."""

from __future__ import annotations

import json
import subprocess
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.api.spec import VERSION
from tests.published.changes import breaking, says_so
from tests.published.history import FILE, ROOT, earlier

SPEC: dict[str, Any] = json.loads((ROOT / FILE).read_text("utf-8"))
PATHS = ("/v1/takeoffs", "/v1/quotes", "/v1/ballparks")
FEW = json.dumps({**SPEC, "paths": {path: SPEC["paths"][path] for path in PATHS}})
"""Enough to try changes on."""
Change = Callable[[dict[str, Any]], object]


def test_nothing_breaks_unless_the_version_says_so() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("no history: what was published before is not known")
    for commit, old in earlier(VERSION):
        found = breaking(old, SPEC)
        ways = "raise VERSION in service/api/spec.py and pyproject.toml, or take back"
        assert not found or says_so(old["info"]["version"], VERSION), f"since {commit}: {ways}\n" + "\n".join(
            found
        )


def test_the_description_carries_the_version_of_the_package() -> None:
    assert SPEC["info"]["version"] == VERSION
    assert tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["version"] == VERSION


def schema(spec: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = spec["components"]["schemas"][name]
    return found


def parameters(spec: dict[str, Any]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = spec["paths"]["/v1/quotes"]["get"]["parameters"]
    return found


STATE = "Quote as answered.state"
BREAKS: dict[str, tuple[Change, str]] = {
    "an operation gone": (lambda s: s["paths"]["/v1/takeoffs"].pop("post"), "POST /v1/takeoffs: gone"),
    "a path gone": (lambda s: s["paths"].pop("/v1/takeoffs"), "POST /v1/takeoffs: gone"),
    "an answer's field gone": (
        lambda s: schema(s, "Totals")["properties"].pop("gross"),
        "Totals as answered.gross: gone",
    ),
    "an answer's word gone": (
        lambda s: schema(s, "Quote")["properties"]["state"]["enum"].remove("expired"),
        f"{STATE}: expired is no longer said",
    ),
    "an answer's word new": (
        lambda s: schema(s, "Quote")["properties"]["state"]["enum"].append("lost"),
        f"{STATE}: lost where there was a closed list",
    ),
    "an answer's type wider": (
        lambda s: schema(s, "Totals")["properties"]["gross"].update(type=["string", "null"]),
        "Totals as answered.gross: null beside or in place of string",
    ),
    "an answer's field not always there": (
        lambda s: schema(s, "Ballpark")["required"].remove("low"),
        "Ballpark as answered.low: no longer always there",
    ),
    "a request's field gone": (
        lambda s: schema(s, "Saw")["properties"].pop("kerf"),
        "Saw as sent.kerf: gone",
    ),
    "a request's field required": (
        lambda s: schema(s, "Room")["required"].append("name"),
        "Room as sent.name: now required",
    ),
    "a request's type narrower": (
        lambda s: schema(s, "Room")["properties"]["built_year"].update(type="integer"),
        "Room as sent.built_year: null beside or in place of integer",
    ),
    "a request's word gone": (
        lambda s: schema(s, "Room")["properties"]["heating"]["enum"].remove("water"),
        "Room as sent.heating: water where there was a closed list",
    ),
    "a request's form gone": (
        lambda s: schema(s, "Room")["properties"]["walls"]["oneOf"].pop(),
        "Room as sent.walls: array is no longer taken",
    ),
    "a request's bound lower": (
        lambda s: schema(s, "Room")["properties"]["name"].update(maxLength=20),
        "Room as sent.name: another high bound",
    ),
    "a parameter gone": (
        lambda s: parameters(s).remove(next(p for p in parameters(s) if p["name"] == "limit")),
        "GET /v1/quotes: query limit is no longer taken",
    ),
    "a parameter required": (
        lambda s: parameters(s).append({"in": "query", "name": "site", "required": True}),
        "GET /v1/quotes: query site is now required",
    ),
    "a status gone": (
        lambda s: s["paths"]["/v1/quotes"]["post"]["responses"].pop("201"),
        "POST /v1/quotes: answer 201 is no longer given",
    ),
    "a header gone": (
        lambda s: s["paths"]["/v1/quotes"]["post"]["responses"]["201"]["headers"].pop("ETag"),
        "POST /v1/quotes: answer 201 is without the header ETag",
    ),
    "a media type gone": (
        lambda s: s["paths"]["/v1/takeoffs"]["post"]["responses"]["200"]["content"].pop("image/svg+xml"),
        "POST /v1/takeoffs: answer 200 is no longer image/svg+xml",
    ),
    "another name of an operation": (
        lambda s: s["paths"]["/v1/takeoffs"]["post"].update(operationId="measure"),
        "POST /v1/takeoffs: another operationId, by which clients call it",
    ),
    "a message no longer sent": (
        lambda s: s["webhooks"].pop("quote.issued"),
        "message quote.issued: no longer sent",
    ),
}
HOLDS: dict[str, Change] = {
    "nothing": lambda s: None,
    "a new operation": lambda s: s["paths"].update({"/v1/new": s["paths"]["/v1/takeoffs"]}),
    "a new field of an answer": lambda s: schema(s, "Totals")["properties"].update(extra={"type": "string"}),
    "a field of an answer always there": lambda s: schema(s, "Totals").update(required=["gross"]),
    "a new field that may be sent": lambda s: schema(s, "Room")["properties"].update(
        colour={"type": "string"}
    ),
    "a word more that may be sent": lambda s: schema(s, "Room")["properties"]["heating"]["enum"].append(
        "gas"
    ),
    "a new parameter": lambda s: parameters(s).append({"in": "query", "name": "site", "schema": {}}),
    "a form more that may be sent": lambda s: schema(s, "Room")["properties"]["walls"]["oneOf"].append(
        {"type": "null"}
    ),
    "a wider bound": lambda s: schema(s, "Room")["properties"]["name"].update(maxLength=200),
    "other words": lambda s: s["paths"]["/v1/takeoffs"]["post"].update(summary="Other words."),
}


@pytest.mark.parametrize("name", BREAKS)
def test_what_breaks_callers_is_told(name: str) -> None:
    change, told = BREAKS[name]
    new = json.loads(FEW)
    change(new)
    assert told in breaking(json.loads(FEW), new)


@pytest.mark.parametrize("name", HOLDS)
def test_what_callers_need_not_know_is_not_told(name: str) -> None:
    new = json.loads(FEW)
    HOLDS[name](new)
    assert breaking(json.loads(FEW), new) == []


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("0.1.0", "0.2.0", True),
        ("0.1.0", "0.1.1", False),
        ("0.1.0", "1.0.0", True),
        ("1.4.2", "1.5.0", False),
        ("1.4.2", "2.0.0", True),
        ("0.2.0", "0.1.0", False),
    ],
)
def test_the_version_says_so(old: str, new: str, *, told: bool) -> None:
    assert says_so(old, new) is told


def test_what_is_held_to_comes_from_the_history(tmp_path: Path) -> None:
    """Step by step: unnumbered, a first version, one change, another, and a file not yet committed."""

    def git(*said: str) -> None:
        who = ["-c", "user.name=n", "-c", "user.email=e@floors.example", "-c", "commit.gpgsign=false"]
        subprocess.run(["/usr/bin/env", "git", *who, *said], cwd=tmp_path, check=True, capture_output=True)

    def write(version: str, title: str) -> None:
        text = json.dumps({"info": {"version": version, "title": title}})
        (tmp_path / FILE).write_text(text, "utf-8")

    def held() -> list[str]:
        version = json.loads((tmp_path / FILE).read_text("utf-8"))["info"]["version"]
        return [old["info"]["title"] for _, old in earlier(version, tmp_path)]

    git("init", "-q")
    (tmp_path / FILE).parent.mkdir()
    found = []
    for version, title in (("1", "before"), ("0.1.0", "first"), ("0.1.0", "second"), ("0.1.0", "third")):
        write(version, title)
        git("add", ".")
        git("commit", "-qm", title)
        found.append(held())
    assert found == [[], [], ["first"], ["second", "first"]]
    write("0.1.0", "not committed")
    assert held() == ["third", "first"]
    write("0.2.0", "a new version")
    assert held() == ["third"]
