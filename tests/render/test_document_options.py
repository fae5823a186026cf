"""Options in the document: what changes, by how much, to what total, and which one was taken."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from io import BytesIO

import pytest
from babel.numbers import format_currency
from pypdf import PdfReader

from service.render.document import Alternative, Offer, Style, compose, html, pdf
from service.render.document.blocks import Section, Table
from service.render.document.model import Language
from service.takeoff.answer import Finding, Takeoff
from service.takeoff.room import Tile
from tests.render.offers import RECIPIENT, SECRET, SENDER, offer, takeoff_of


def changed(takeoff: Takeoff, place: int, **said: object) -> Takeoff:
    """The take-off with other choices in one room; its figures do not matter here."""
    rooms = list(takeoff.job.rooms)
    rooms[place] = replace(rooms[place], **said)  # type: ignore[arg-type]
    return replace(takeoff, job=replace(takeoff.job, rooms=tuple(rooms)))


def refused(takeoff: Takeoff) -> Takeoff:
    finding = Finding("deflection", "refuse", "The floor bends too much.", "derived")
    first = replace(takeoff.rooms[0], findings=(*takeoff.rooms[0].findings, finding))
    return replace(takeoff, rooms=(first, *takeoff.rooms[1:]))


@pytest.fixture
def offered() -> Offer:
    base, dearer, cheaper = offer(2), offer(2, lines=5), offer(1)
    takeoff = takeoff_of(2)
    every = changed(changed(takeoff, 0, joint=5.0), 1, joint=5.0)
    return replace(
        base,
        options=(
            Alternative("Small", "A note.", changed(takeoff, 1, tile=Tile(150, 150)), dearer.priced),
            Alternative("Wide joints", "", every, cheaper.priced),
            Alternative("Weak", "", refused(takeoff), None),
        ),
    )


def section(offered: Offer, language: Language = "en") -> Section:
    document = compose(SENDER, RECIPIENT, offered, Style(language))
    return next(part for part in document.contents if part.heading == "Options")


def test_every_option_has_its_difference_and_its_total(offered: Offer) -> None:
    said = section(offered)
    (table,) = (block for block in said.blocks if isinstance(block, Table))
    small, wide, weak = table.rows
    base = offered.gross
    assert base is not None
    for row, option in ((small, offered.options[0]), (wide, offered.options[1])):
        assert option.gross is not None
        moved = option.gross - base
        sign = "+" if moved > 0 else ""
        assert row[2] == sign + written(moved)
        assert row[3] == written(option.gross)
    assert small[1] == "Room 2: Tile: 150 × 150 mm, porcelain, stack bond"
    assert wide[1] == "Joint: 5 mm", "what changes in all rooms is said once"
    assert weak[2:] == ("", "not possible")
    assert [part.heading for part in said.parts] == ["Small", "Weak"]


def written(amount: Decimal) -> str:
    return str(format_currency(amount.normalize(), "EUR", locale="en_DE", decimal_quantization=False))


@pytest.mark.parametrize("taken", ["", "Small"])
def test_the_signature_is_for_what_was_taken(offered: Offer, taken: str) -> None:
    shown = offered
    if taken:
        small = offered.options[0]
        shown = replace(
            offered, taken=taken, state="accepted", takeoff=small.takeoff, priced=small.priced, options=()
        )
    document = compose(SENDER, RECIPIENT, shown, Style("en"))
    pages = PdfReader(BytesIO(pdf(document))).pages
    for text in (" ".join(" ".join(page.extract_text() for page in pages).split()), html(document)):
        assert ("is written here" in text) is (not taken)
        assert ("The option Small was taken" in text) is bool(taken)
        assert ("bends too much" in text) is (not taken), "what was not taken is of no account any more"
        assert SECRET not in text
    total = shown.gross
    assert total is not None
    assert f"for {written(total)} is accepted" in html(document)


def test_an_offer_without_options_says_nothing_of_them() -> None:
    document = compose(SENDER, RECIPIENT, offer(1), Style("en"))
    assert "Options" not in [part.heading for part in document.contents]


def test_many_rooms_are_counted(offered: Offer) -> None:
    takeoff = takeoff_of(6)
    wide = takeoff
    for place in range(5):
        wide = changed(wide, place, joint=5.0)
    many = replace(offer(6), options=(Alternative("Wide", "", wide, offer(6).priced),))
    (table,) = (block for block in section(many).blocks if isinstance(block, Table))
    assert table.rows[0][1] == "5 rooms: Joint: 5 mm"
