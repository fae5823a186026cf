"""The catalogues: every text of the code in every language, none that nobody says."""

from __future__ import annotations

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
KEYWORDS = {"say": None, "mark": None, "count": (1, 2)}
TOLD = ("assumption.", "exclusion.", "caution.")


@cache
def _said() -> frozenset[str | tuple[str, ...]]:
    found = extract_from_dir(FOLDER, method_map=[("**.py", "python")], keywords=KEYWORDS)
    return frozenset(message for _, _, message, _, _ in found)


@cache
def _trade_texts() -> frozenset[str]:
    day = date(2027, 1, 1)
    return frozenset(
        str(value.value)
        for country in ("us", "uk", "de")
        for key, value in load_trade_values(country, day).by_key.items()
        if key.startswith(TOLD)
    ) | {CLASS_CAUTION}


@pytest.fixture(params=["de", "es", "fr"])
def catalogue(request: pytest.FixtureRequest) -> Catalog:
    with (FOLDER / "locales" / f"{request.param}.po").open("rb") as file:
        return read_po(file, locale=request.param)


def test_every_text_of_the_code_is_there(catalogue: Catalog) -> None:
    ids = {message.id for message in catalogue if message.id}
    assert _said() - ids == set()
    assert {text for text in ids - _said() if text not in _trade_texts()} == set(), "nobody says these"
    assert not [message.id for message in catalogue if message.id and not _filled(message.string)]


def _filled(said: str | tuple[str, ...]) -> bool:
    return bool(said) if isinstance(said, str) else len(said) == 2 and all(said)


def test_the_places_to_fill_are_the_same(catalogue: Catalog) -> None:
    for message in catalogue:
        if message.id:
            assert _places(message.id) == _places(message.string), message.id


def _places(said: str | tuple[str, ...]) -> set[str | None]:
    forms = (said,) if isinstance(said, str) else said
    return {name for form in forms for _, name, _, _ in string.Formatter().parse(form) if name is not None}


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
    assert (said.text, said.lang) == ("Bath: 1, Hall: Entwurf (ISO 1)", "")
    assert speak.fixed("Hall: Draft (ISO 1, load 9 kg (20 lb); DIN 2)").text == "Hall: Entwurf (ISO 1, DIN 2)"
    assert speak.fixed("Nobody translated this.").lang == "en"
