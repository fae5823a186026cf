"""Findings in the language of the document: every sentence, its figures and its units."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

import pytest

from service.pricing.model import Gap
from service.quoting.refusals import without_system
from service.quoting.snapshot import from_json, to_json
from service.render.document import Offer, floor
from service.render.document.blocks import Words
from service.render.document.figures import told
from service.render.document.language import tongue
from service.render.spoken import spoken
from service.sentence import Sentence, listed, say
from service.takeoff.answer import Finding
from tests.render.found import COUNTRIES, findings_told, takeoff_with_findings
from tests.render.offers import DAY

GERMAN, FRENCH = tongue("de", "DE", "EUR"), tongue("fr", "FR", "EUR")
AMERICAN = tongue("en", "US", "USD", us_units=True)


@pytest.mark.parametrize("language", ["de", "es", "fr"])
@pytest.mark.parametrize("standards", COUNTRIES)
def test_no_english_sentence_is_left(standards: str, language: str) -> None:
    """Regression: what the take-off found was English in documents of other languages."""
    takeoff = takeoff_with_findings(standards)
    offer = Offer("Q-1", 1, "issued", DAY, date(2026, 4, 1), "EUR", takeoff, None)
    speak = tongue(language, language, "EUR")
    sections = [
        part(speak, offer) for part in (floor.conditions, floor.assumptions, floor.exclusions, floor.cautions)
    ]
    said = [words for section in sections for words in _all_words(section)]
    assert len(said) > 100
    assert [words.text for words in said if words.lang] == []


def _all_words(block: Any) -> list[Words]:
    if isinstance(block, Words):
        return [block]
    if isinstance(block, tuple):
        return [words for part in block for words in _all_words(part)]
    return _all_words(tuple(getattr(block, f.name) for f in fields(block))) if is_dataclass(block) else []


def test_the_floors_have_much_to_say() -> None:
    """Else nothing is proven above: most rules are there."""
    assert len({finding.rule for finding in findings_told()}) > 45


def test_figures_are_written_as_the_country_does() -> None:
    said = say("A tile edge of {edge:g mm} is over {most:g mm}.", edge=1234.5, most=1200.0)
    assert said == "A tile edge of 1234.5 mm is over 1200 mm."
    spoken = say("Deck {thickness:g mm}, at least {least:g mm} wanted.", thickness=12.5, least=1234.0)
    assert _plain(told(GERMAN, spoken).text) == "Unterboden 12,5 mm, mindestens 1.234 mm sind nötig."
    assert _plain(told(FRENCH, spoken).text) == "Plancher de 12,5 mm, au moins 1 234 mm demandé."


def test_lengths_weights_and_areas_stand_in_the_documents_units() -> None:
    """By the yard and pound of 1959: 12.7 mm are 1/2 in, 9.525 mm 3/8 in, 22.7 kg 50 lb, 1 m2 10.8 ft2."""
    said = say(
        "{a:g mm}, {b:g mm}, {c:.2f m}, {d:g kg}, {e:.1f kg/m2}, {f:.2f (m2)} of {g:.2f m2}, {h:.0%}",
        a=12.7,
        b=9.525,
        c=3.048,
        d=22.6796,
        e=4.88243,
        f=1.0,
        g=1.0,
        h=0.5,
    )
    written = _plain(told(AMERICAN, said).text)
    assert written == '1/2", 3/8", 10\' 0", 50 lb, 1 lb/ft², 10.76 of 10.76 ft², 50%'
    assert said == "12.7 mm, 9.525 mm, 3.05 m, 22.6796 kg, 4.9 kg/m2, 1.00 of 1.00 m2, 50%"


def test_a_thirty_second_of_an_inch_is_told_where_it_matters() -> None:
    """4 mm are 5/32 in (3.97 mm) to 0.03 mm, 3/16 in would be 4.76 mm."""
    gap = say("Joint {joint:g mm}, at least {least:.3g mm} is wanted for this tile.", joint=4.0, least=4.8)
    assert told(AMERICAN, gap).text == 'Joint 5/32", at least 3/16" is wanted for this tile.'


def test_a_sentence_that_no_catalogue_has_is_english_and_marked() -> None:
    for said in (
        say("Nobody translated {this:g mm}.", this=3.0),
        say("{a}, {b}.", a=say("yes"), b=say("no")),
    ):
        assert told(GERMAN, said) == Words(said, "en")
    assert told(GERMAN, listed((say("screed"), say("old covering")))) == Words("Estrich, alter Belag")


def test_what_somebody_typed_stays_as_it_is() -> None:
    said = say("{system} has no fitting {parts}", system="{odd} <b>", parts=say("{role:role}", role="band"))
    assert said == "{odd} <b> has no fitting band"
    assert told(GERMAN, said).text == "{odd} <b> hat nichts Passendes für: Dichtband"


def test_a_stored_finding_can_be_said_in_another_language_later() -> None:
    takeoff = takeoff_with_findings("de")
    again = from_json(to_json(takeoff), type(takeoff))
    assert again == takeoff
    kept = [finding.message for room in again.rooms for finding in room.findings if finding.verdict != "pass"]
    made = [f.message for room in takeoff.rooms for f in room.findings if f.verdict != "pass"]
    assert [told(GERMAN, said) for said in kept] == [told(GERMAN, said) for said in made]
    assert all(isinstance(said, Sentence) for said in kept)


def test_findings_of_older_quotes_are_plain_words() -> None:
    kept = {"rule": "bonded", "verdict": "refuse", "message": "Too loose.", "source": "common practice"}
    finding = from_json(kept, Finding)
    assert told(FRENCH, finding.message) == Words("Too loose.", "en")


def test_the_floor_for_which_no_system_is_sold_says_so() -> None:
    takeoff = takeoff_with_findings("de")
    none = say("no product on sale for the wet floor belongs to a system")
    for message, expected in (
        (none, Words("kein erhältliches Produkt für den nassen Boden gehört zu einem System.")),
        ("a rate is missing", Words("a rate is missing.", "en")),
    ):
        refused = without_system(takeoff, [Gap("band", "no_system", message)])
        last = next(room.findings[-1] for room in refused.rooms if room.waterproofing)
        assert told(GERMAN, last.message) == expected
        assert last.message == f"{message}."


@pytest.mark.parametrize("language", ["de", "es", "fr"])
def test_the_crew_is_told_in_its_language(language: str) -> None:
    speak = tongue(language, language, "EUR")
    takeoff = takeoff_with_findings("de")
    to_do = (*(each.text for each in takeoff.instructions), *takeoff.tools, *takeoff.cautions)
    assert [said for said in to_do if told(speak, said).lang] == []
    sheet = spoken(takeoff, speak)
    assert len(sheet.tools) == len(takeoff.tools)
    assert {*sheet.tools, *(each.text for each in sheet.instructions)}.isdisjoint(to_do)
    assert spoken(takeoff, AMERICAN) is takeoff


def test_figures_within_instructions_are_written_as_the_country_does() -> None:
    """A notch of 1/4 x 3/16 in is 6.35 x 4.76 mm by the inch of 1959."""
    takeoff = takeoff_with_findings("us")
    trowels = [said for said in takeoff.tools if "notched trowel for the membrane" in said]
    assert "notched trowel for the membrane: V notch 1/4 x 3/16 in (6.35 x 4.76 mm)" in trowels
    written = [_plain(told(GERMAN, said).text) for said in trowels]
    assert "Zahnkelle für die Matte: Zahnung V-förmig 1/4 × 3/16 Zoll (6,35 × 4,76 mm)" in written


def _plain(text: str) -> str:
    return " ".join(text.split())
