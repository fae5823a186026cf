"""Documents as others read them: pypdf and html.parser from outside, babel for how figures are written."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser
from io import BytesIO

import pytest
from babel.numbers import format_currency, parse_decimal
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from service.pricing.lines import plain_line
from service.pricing.model import LineKind, Rounding
from service.render.document import Offer, Style, compose, html, pdf
from service.render.document.blocks import Table
from service.render.document.model import Detail, Language, Paper, Recipient
from service.render.document.prices import room_shares, shown_lines
from service.render.document.text import breakable, clean, isolated
from tests.render.offers import RECIPIENT, SECRET, SENDER, offer, offer_of, takeoff_of

LANGUAGES: tuple[Language, ...] = ("de", "en", "es", "fr")
DETAILS: tuple[Detail, ...] = ("lump_sum", "by_room", "by_line")
HOSTILE = '<script>alert(1)</script> #import "x": * $a$ @b \\u{41} `c` </style> {{ 7*7 }} &amp;'


class Page(HTMLParser):
    """The tags, the text and the languages of a page."""

    def __init__(self, source: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.words: list[str] = []
        self.feed(source)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return plain("".join(self.words))


def plain(text: str) -> str:
    """With ordinary blanks: figures are written with several kinds."""
    return " ".join(text.split())


def read(made: bytes) -> PdfReader:
    return PdfReader(BytesIO(made))


def text_of(reader: PdfReader) -> str:
    return plain(" ".join(page.extract_text() for page in reader.pages))


def composed(of: Offer, language: Language = "en", paper: Paper = "a4", detail: Detail = "by_line"):
    return compose(SENDER, RECIPIENT, of, Style(language, paper, detail))


@pytest.mark.parametrize("language", LANGUAGES)
def test_totals_stand_in_both_as_babel_writes_them(language: Language) -> None:
    of = offer()
    totals = of.priced.totals
    written = [
        plain(format_currency(amount, "EUR", locale=_locale(language)))
        for amount in (totals.net, totals.gross, totals.deposit, *(tax.amount for tax in totals.taxes))
    ]
    document = composed(of, language)
    in_pdf, on_page = text_of(read(pdf(document))), Page(html(document)).text
    for amount in written:
        assert amount in in_pdf
        assert amount in on_page


def _locale(language: str) -> str:
    return "de_DE" if language == "de" else "en_DE" if language == "en" else language


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_pdf_is_tagged_and_says_its_language(paper: Paper, points: tuple[int, int]) -> None:
    """ISO 14289-1 (PDF/UA-1): marked, a structure tree, a language, a title; fonts inside; paper sizes."""
    reader = read(pdf(composed(offer(), "fr", paper)))
    catalogue = reader.root_object
    assert catalogue["/MarkInfo"]["/Marked"]
    assert catalogue["/StructTreeRoot"]["/K"]
    assert catalogue["/Lang"] == "fr"
    assert reader.metadata.title == "Devis Q-2026-0007"
    assert b"pdfuaid:part" in catalogue["/Metadata"].get_data()
    box = reader.pages[0].mediabox
    assert (round(box.width), round(box.height)) == points
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    for font in fonts:
        inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        assert {"/FontFile2", "/FontFile3", "/FontFile"} & inner["/FontDescriptor"].get_object().keys()


def test_the_same_document_gives_the_same_bytes() -> None:
    assert pdf(composed(offer())) == pdf(composed(offer()))


@pytest.mark.parametrize("detail", DETAILS)
def test_hostile_words_stay_words(detail: Detail) -> None:
    of = offer(2, [HOSTILE, "B"])
    mine = replace(SENDER, name=HOSTILE, terms_text=HOSTILE, payment_terms=HOSTILE)
    document = compose(
        mine, Recipient(HOSTILE, kind="business", tax_number=HOSTILE), of, Style("en", "a4", detail)
    )
    page = Page(html(document))
    assert "script" not in page.tags
    assert page.text.count("<script>alert(1)</script>") >= 5
    assert not [name for name, _ in page.attributes if name.startswith("on")]
    in_pdf = text_of(read(pdf(document))).replace(" ", "")
    assert in_pdf.count('<script>alert(1)</script>#import"x":*$a$@b') >= 5


@pytest.mark.parametrize("language", LANGUAGES)
def test_languages_are_told(language: Language) -> None:
    page = Page(html(composed(offer(), language)))
    assert [value for name, value in page.attributes if name == "lang"] == [language]


def test_a_draft_says_so_and_cannot_be_signed() -> None:
    draft, issued = (composed(offer(state=state)) for state in ("draft", "issued"))
    for text in (Page(html(draft)).text, text_of(read(pdf(draft)))):
        assert "This is a draft and no offer" in text
        assert "Signature of the customer" not in text
    for text in (Page(html(issued)).text, text_of(read(pdf(issued)))):
        assert "DRAFT" not in text
        assert "This is a draft" not in text
        assert "Signature of the customer" in text


@pytest.mark.parametrize("detail", DETAILS)
def test_no_supplier_cost_or_hours_are_told(detail: Detail) -> None:
    of = offer()
    page = Page(html(composed(of, detail=detail))).text
    assert SECRET not in page
    assert "38.70" not in page
    totals = of.priced.totals
    for secret in (totals.labour, totals.materials, totals.markup, totals.contingency):
        assert plain(format_currency(secret, "EUR", locale="en_DE")) not in page


def _amounts(table: Table) -> list[Decimal]:
    """What the rows say, read back by babel."""
    said = [row[-1] for row in table.rows if len(row) > 1] + [name for _, name, _ in table.sums]
    return [parse_decimal(re.sub(r"[^\d,.-]", "", amount), locale="de_DE") for amount in said]


PRICES = st.decimals("0.01", "9999.99", places=2)
KINDS: tuple[LineKind, ...] = ("material", "labour", "delivery")


@settings(max_examples=60)
@given(
    lines=st.lists(st.tuples(st.sampled_from(KINDS), PRICES, st.integers(0, 7)), min_size=1, max_size=30),
    detail=st.sampled_from(DETAILS),
)
def test_what_is_shown_adds_up_to_net(lines: list, detail: Detail) -> None:
    takeoff = takeoff_of(3)
    names = [room.name for room in takeoff.rooms]
    at_cost = [
        replace(
            plain_line(kind, "grout", "x", "kg", Decimal(1), cost, Rounding()),
            rooms=tuple(name for bit, name in enumerate(names) if mask >> bit & 1),
        )
        for kind, cost, mask in lines
    ]
    of = offer_of(takeoff, at_cost)
    totals = of.priced.totals
    assert sum(room_shares(of.priced, takeoff.rooms)) == totals.net
    assert sum(line.price for line in shown_lines(of.priced)) == totals.net
    document = composed(of, "de", detail=detail)
    price = next(section for section in document.contents if section.heading == "Preis")
    amounts = _amounts(price.blocks[0])
    *shown, net, first, second, gross = amounts
    assert sum(shown) == net == totals.net
    assert net + first + second == gross == totals.gross


def test_a_line_of_one_room_is_that_rooms_alone() -> None:
    takeoff = takeoff_of(2)
    line = plain_line("material", "grout", "x", "kg", Decimal(1), Decimal("100.00"), Rounding())
    of = offer_of(takeoff, [replace(line, rooms=(takeoff.rooms[1].name,))])
    first, second = room_shares(of.priced, takeoff.rooms)
    assert (first, second) == (0, of.priced.totals.net)


NAMES = ["n" * 200, "A long name of a room " * 9, "محمد علي", "חדר אמבטיה", "浴室 😀", "می\u200cخواهم"]


@pytest.mark.parametrize("name", NAMES)
def test_names_of_all_kinds_are_set(name: str) -> None:
    of = offer(1, [name])
    document = compose(SENDER, Recipient(name), of, Style("en", "a4", "by_room"))
    assert clean(name) in Page(html(document)).text
    reader = read(pdf(document))
    assert reader.root_object["/MarkInfo"]["/Marked"]
    letters = set(text_of(reader))
    assert {c for c in name if c.isalnum() and ord(c) < 0x600} <= letters


def test_names_cannot_turn_their_neighbours() -> None:
    assert clean("A\u202eB\x07C\n\u200dD") == "A B C \u200dD"
    assert isolated("abc") == "abc"
    assert isolated("אבג") == "\u2068אבג\u2069"
    assert breakable("x" * 50).replace("\u200b", "") == "x" * 50
    assert max(map(len, breakable("x" * 50).split("\u200b"))) <= 24


def test_consumers_and_businesses_read_their_own_notice() -> None:
    business = replace(RECIPIENT, kind="business")
    to_consumer, to_business = (
        Page(html(compose(SENDER, who, offer(), Style()))).text for who in (RECIPIENT, business)
    )
    assert "Right to withdraw" in to_consumer
    assert "Right to withdraw" not in to_business
    assert "made to a business" in to_business
    own = replace(SENDER, consumer_text="Our own notice.")
    page = Page(html(compose(own, RECIPIENT, offer(), Style()))).text
    assert "Our own notice." in page
    assert "If you buy as a consumer" not in page


def test_reverse_charge_is_said_where_a_tax_is_so() -> None:
    of = offer()
    taxes = tuple(replace(tax, reverse_charge=True) for tax in of.priced.totals.taxes)
    charged = replace(of, priced=replace(of.priced, totals=replace(of.priced.totals, taxes=taxes)))
    business = replace(RECIPIENT, kind="business")
    said = [Page(html(compose(SENDER, business, each, Style()))).text for each in (of, charged)]
    assert ["Reverse charge" in page for page in said] == [False, True]


def test_a_refused_floor_has_no_price_and_says_why() -> None:
    of = offer(state="draft")
    rooms = tuple(
        replace(room, findings=tuple(replace(f, verdict="refuse") for f in room.findings))
        for room in of.takeoff.rooms
    )
    document = composed(replace(of, priced=None, takeoff=replace(of.takeoff, rooms=rooms)))
    page = Page(html(document)).text
    assert "must not be built as described" in page
    assert "€" not in page
    assert "must not be built" in text_of(read(pdf(document)))
