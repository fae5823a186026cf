"""A take-off names its edition; done again with it, whatever has followed, it gives the same bytes."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, astuple, replace
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest

from service.quoting.recompute import recomputed
from service.quoting.snapshot import from_json, to_json
from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.trade.values import STANDARDS, TradeValue, TradeValues, choose, load_edition, parse_edition
from service.trade.values import _all_values as published
from tests.takeoff.rooms import JOB, LABOUR, ON, VALUES

NEWER = TradeValue("mortar.loss", 0.2, "1", date(2027, 1, 1), "invented", "common practice")
ALL = (*published(), NEWER)
LATER = date(2027, 6, 1)
PUBLISHED = Path(__file__).with_name("published_values.json")
"""Digests of what each published edition says, by family of values."""


def digests(edition: str) -> dict[str, str]:
    """Of all that an edition says of each family (the first part of the key), in eight bytes."""
    families: dict[str, list[str]] = {}
    for key, value in sorted(load_edition(edition).by_key.items()):
        families.setdefault(key.partition(".")[0], []).append(repr(astuple(value)))
    return {name: sha256("\n".join(said).encode()).hexdigest()[:16] for name, said in families.items()}


@pytest.mark.parametrize("edition", sorted(json.loads(PUBLISHED.read_text())))
def test_what_a_published_edition_says_never_changes(edition: str) -> None:
    """A value that is to change is followed by one of a later day, which makes an edition of its own."""
    assert digests(edition) == json.loads(PUBLISHED.read_text())[edition]


def test_every_edition_is_published() -> None:
    days = {value.from_date for value in published()}
    made = {choose(published(), country, day).edition for day in days for country in STANDARDS}
    held = {edition for edition in made if load_edition(edition).by_key}
    assert held == set(json.loads(PUBLISHED.read_text()))


def of_edition(edition: str) -> TradeValues:
    return choose(ALL, *parse_edition(edition))


def as_bytes(answer: Takeoff) -> bytes:
    return json.dumps(asdict(answer), default=str).encode()


def test_a_newer_value_makes_an_edition_of_its_own() -> None:
    newest = choose(ALL, "us", LATER)
    assert (newest.edition, newest.number("mortar.loss")) == ("2027-01-01/us", 0.2)
    assert choose(ALL, "us", ON).edition == VALUES.edition == "2026-01-01/us"
    assert of_edition(VALUES.edition).by_key == VALUES.by_key == load_edition(VALUES.edition).by_key


@pytest.mark.parametrize("standards", ["us", "uk", "de"])
def test_an_old_take_off_gives_the_same_bytes_with_its_edition(standards: str) -> None:
    job = replace(JOB, standards=standards)  # type: ignore[arg-type]
    old = take_off(job, choose(ALL, standards, ON), LABOUR)
    assert as_bytes(take_off(job, choose(ALL, standards, LATER), LABOUR)) != as_bytes(old)
    assert as_bytes(take_off(job, of_edition(old.trade_edition), LABOUR)) == as_bytes(old)


def test_what_a_quote_keeps_suffices_to_do_it_again() -> None:
    """Own values and rates come from what was kept, the rest from the edition; read back from JSON."""
    own = {"mortar.skim": 0.5}
    made = take_off(JOB, choose(ALL, "us", ON).overridden_by(own), LABOUR)
    kept = json.loads(json.dumps({"own_values": own, "labour_table": to_json(LABOUR)}))
    stored = from_json(json.loads(json.dumps(to_json(made))), Takeoff)
    assert as_bytes(recomputed(stored, kept, of_edition)) == as_bytes(made)
    assert as_bytes(recomputed(stored, {**kept, "own_values": {}}, of_edition)) != as_bytes(made)


@pytest.mark.parametrize("said", ["", "2026-01-01", "2026-01-01/fr", "2026-13-01/us", "us/2026-01-01"])
def test_what_names_no_edition_is_refused(said: str) -> None:
    with pytest.raises(ValueError, match=r"edition|month|isoformat"):
        parse_edition(said)


def test_a_later_value_of_one_country_leaves_the_others_their_edition() -> None:
    german = replace(NEWER, standards="de")
    assert choose((*published(), german), "de", LATER).edition == "2027-01-01/de"
    assert choose((*published(), german), "us", LATER).edition == "2026-01-01/us"


@pytest.mark.parametrize(
    ("country", "foreign"),
    [
        ("us", r"\b(DIN|NHBC|BS)\b"),
        ("uk", r"\b(DIN|ASTM|ANSI|TCNA)\b"),
        ("de", r"\b(NHBC|BS|ASTM|ANSI|TCNA)\b"),
    ],
)
def test_no_country_is_told_the_standards_of_another(country: str, foreign: str) -> None:
    """But for mortars, whose classes are named by both norms."""
    values = choose(published(), country, ON).by_key.items()
    told = [key for key, value in values if re.search(foreign, value.source)]
    assert [key for key in told if not key.startswith("mortar.")] == []
