"""The catalogues: every text of the code in every language, none that nobody says."""

from __future__ import annotations

import ast
import re
import string
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po

import service.render.document as documents
from service.render.document.language import tongue
from service.takeoff.mortar import CLASS_CAUTION
from service.trade import load_trade_values

FOLDER = Path(documents.__file__).parent
SERVICE = FOLDER.parents[1]
KEYWORDS = {"say": None, "mark": None, "count": (1, 2)}
TOLD = (
    "assumption.",
    "exclusion.",
    "caution.",
    "crew.",
    "tool.",
    "assembly.no_membrane",
    "assembly.unneeded_choice",
    "checks.slip.exterior",
    "checks.slip.wet",
    "checks.stone",
    "movement_joints.substrate_joints",
    "substrate.beneath",
    "substrate.bonded.",
    "substrate.heating.",
    "substrate.must.",
    "waterproofing.class.",
    "waterproofing.untested.",
    "waterproofing.water_stop",
)
"""Words of the trade that reach a document, whole or in a finding."""
PUT_TOGETHER = {"{told}: {roles}."}
"""Without words of its own, but French sets its colon apart."""
ON_UNKNOWN_GROUND = {"unknown", "water_heating", "exterior"}
"""Places whose mortar is told with its reason: elsewhere it simply passes."""


@cache
def _said() -> frozenset[str | tuple[str, ...]]:
    found = extract_from_dir(FOLDER, method_map=[("**.py", "python")], keywords=KEYWORDS)
    return frozenset(message for _, _, message, _, _ in found) | _templates()


def _templates() -> frozenset[str]:
    """What `say` is given in take-off and pricing, but for what has no words of its own."""
    files = [path for folder in ("takeoff", "pricing") for path in (SERVICE / folder).rglob("*.py")]
    calls = (
        node
        for path in files
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "say"
    )
    said = (call.args[0].value for call in calls if isinstance(call.args[0], ast.Constant))
    return frozenset(text for text in said if any(c.isalpha() for c in re.sub("{.*?}", "", text)))


@cache
def _trade_texts() -> frozenset[str]:
    values = [load_trade_values(country, date(2027, 1, 1)) for country in ("us", "uk", "de")]
    words = (value for held in values for key, value in held.by_key.items() if key.startswith(TOLD))
    kept = (row["says"] for held in values for row in held.table("existing.kept"))
    rows = (row for held in values for row in held.table("mortar.choice"))
    why = (row["why"] for row in rows if row["place"] in ON_UNKNOWN_GROUND)
    told = (str(value.value) for value in words if isinstance(value.value, str))
    return frozenset((*told, *kept, *why, CLASS_CAUTION))


@pytest.fixture(params=["de", "es", "fr"])
def catalogue(request: pytest.FixtureRequest) -> Catalog:
    with (FOLDER / "locales" / f"{request.param}.po").open("rb") as file:
        return read_po(file, locale=request.param)


def test_every_text_of_the_code_is_there(catalogue: Catalog) -> None:
    ids = {message.id for message in catalogue if message.id}
    wanted = _said() | _trade_texts()
    assert wanted - ids == set()
    assert ids - wanted - PUT_TOGETHER == set(), "nobody says these"
    assert not [message.id for message in catalogue if message.id and not _filled(message.string)]


def _filled(said: str | tuple[str, ...]) -> bool:
    return bool(said) if isinstance(said, str) else len(said) == 2 and all(said)


def test_the_places_to_fill_are_the_same(catalogue: Catalog) -> None:
    for message in catalogue:
        if message.id:
            assert _places(message.id) == _places(message.string), message.id


def test_a_translation_leaves_it_to_the_english_text_how_figures_are_written(catalogue: Catalog) -> None:
    forms = [form for message in catalogue if message.id for form in _forms(message.string)]
    assert not [form for form in forms for _, _, spec, _ in string.Formatter().parse(form) if spec]


def _places(said: str | tuple[str, ...]) -> set[str | None]:
    return {
        name for form in _forms(said) for _, name, _, _ in string.Formatter().parse(form) if name is not None
    }


def _forms(said: str | tuple[str, ...]) -> tuple[str, ...]:
    return (said,) if isinstance(said, str) else said


@pytest.mark.parametrize(
    ("language", "country", "amount", "expected"),
    [
        ("de", "DE", "1234.5", "1.234,50 €"),
        ("de", "CH", "1234.5", "EUR 1’234.50"),
        ("fr", "FR", "1234.5", "1 234,50 €"),
        ("en", "US", "1234.5", "€1,234.50"),
        ("en", "GB", "0.125", "€0.125"),
        ("es", "SE", "12345.6", "12.345,60 €"),
    ],
)
def test_money_is_written_as_the_country_does(
    language: str, country: str, amount: str, expected: str
) -> None:
    """Unicode CLDR's patterns; decimals beyond the currency's stay, so that sums add up."""
    written = tongue(language, country, "EUR").money(Decimal(amount))
    assert " ".join(written.split()) == expected


def test_stored_sentences_are_said_with_their_rooms_and_sources() -> None:
    speak = tongue("de", "DE", "EUR")
    said = speak.fixed("Bath: 1, Hall: Draft (ISO 1)")
    assert (said.text, said.lang) == ("Bath: 1, Hall: Entwurf (ISO\N{NO-BREAK SPACE}1)", "")
    named = speak.fixed("Hall: Draft (ISO 1, load 9 kg (20 lb); DIN 2)").text
    assert " ".join(named.split()) == "Hall: Entwurf (ISO 1, DIN 2)"
    assert speak.fixed("Nobody translated this.").lang == "en"
    french = tongue("fr", "FR", "EUR").fixed("Hall: Draft (common practice)").text
    assert french == "Hall\N{NO-BREAK SPACE}: Projet"
