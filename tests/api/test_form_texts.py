"""The ballpark form's catalogues: whole in each language, and a word for whatever the operation can say."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.api.pages.questions import FIRST, FURTHER, TRAP, questions
from service.api.pages.texts import LANGUAGES, texts

OPENAPI = json.loads((Path(__file__).parents[2] / "openapi" / "openapi.json").read_text("utf-8"))
SCHEMAS = OPENAPI["components"]["schemas"]
ASKED = SCHEMAS["BallparkRequest"]["properties"]


def leaves(catalogue: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    for key, value in catalogue.items():
        if isinstance(value, dict):
            yield from leaves(value, f"{path}/{key}")
        else:
            yield f"{path}/{key}", value


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_catalogue_says_the_same_things(language: str) -> None:
    said, english = dict(leaves(texts(language))), dict(leaves(texts("en")))
    assert said.keys() == english.keys()
    assert all(said.values())
    for path, text in english.items():
        assert sorted(re.findall(r"{\w+}", said[path])) == sorted(re.findall(r"{\w+}", text)), path


def test_every_choice_and_every_remark_has_words() -> None:
    words = texts("en")
    for question in questions(FIRST + FURTHER):
        assert words["choices"][question.name].keys() == set(question.choices)
    assert words["script"]["includes"].keys() == set(SCHEMAS["Included"]["properties"]["code"]["enum"])
    assert words["script"]["cautions"].keys() == set(SCHEMAS["Caution"]["properties"]["code"]["enum"])


def test_the_form_asks_all_that_the_operation_takes(client: FlaskClient) -> None:
    page = client.get("/ballpark/form").text
    names = set(re.findall(r'name="(\w+)"', page)) - {"unit"}
    assert names == ASKED.keys() - {"region"}  # the site says its region in the script tag
    assert TRAP in names
    asked_next = set(SCHEMAS["Ballpark"]["properties"]["ask_next"]["enum"]) - {None}
    assert asked_next <= set(re.findall(r'data-question="(\w+)"', page))


@pytest.mark.parametrize(
    ("query", "accepted", "language"),
    [
        ("?locale=de-AT", "fr", "de"),
        ("?locale=xx", "fr;q=0.5, es", "es"),
        ("", "nl, fr-CA;q=0.8", "fr"),
        ("?locale=%3Cscript%3E", "", "en"),
        ("", "", "en"),
    ],
)
def test_the_language_is_the_one_asked_for(
    client: FlaskClient, query: str, accepted: str, language: str
) -> None:
    answer = client.get(f"/ballpark{query}", headers={"Accept-Language": accepted})
    assert f'<html lang="{language}">' in answer.text
    assert texts(language)["title"] in answer.text
    assert "Accept-Language" in answer.headers["Vary"]


def test_nothing_of_the_address_becomes_markup(client: FlaskClient) -> None:
    answer = client.get('/ballpark?key="><script>alert(1)</script>&theme="><b>')
    assert "<script>alert" not in answer.text
    assert "<b>" not in answer.text
