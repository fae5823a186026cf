"""No page tears what belongs together: asked of the file's own structure, page by page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import pytest
from pypdf import PdfReader

from service.render.document import Style, compose, pdf
from service.render.document.blocks import Document, Section, Table
from service.render.document.model import Detail, Paper
from tests.render.offers import RECIPIENT, SENDER, offer
from tests.render.structure import Element, structure
from tests.render.test_document import plain, read

LONG = (
    "A long name of a room in the north wing above the old kitchen, " * 3,
    "Hall",
    "محمد علي " * 12,
    "n" * 150,
    "חדר אמבטיה",
)
WHOLE = ("H1", "H2", "H3", "TR", "TFoot", "THead", "LI", "Figure")
"""What stands on one page each."""

CASES = [
    (1, (), 0, "a4", "by_line"),
    (1, LONG, 0, "letter", "by_room"),
    (5, (), 0, "letter", "by_room"),
    (5, LONG, 0, "a4", "by_line"),
    (40, LONG, 50, "a4", "by_line"),
    pytest.param(40, LONG, 500, "a4", "by_line", marks=pytest.mark.full),
    pytest.param(40, LONG, 0, "letter", "by_room", marks=pytest.mark.full),
    pytest.param(40, (), 500, "letter", "by_line", marks=pytest.mark.full),
]


@pytest.mark.parametrize(("rooms", "names", "lines", "paper", "detail"), CASES)
def test_pages_break_between_what_belongs_together(
    rooms: int, names: Sequence[str], lines: int, paper: Paper, detail: Detail
) -> None:
    document = compose(SENDER, RECIPIENT, offer(rooms, names, lines), Style("en", paper, detail))
    reader = read(pdf(document))
    root = structure(reader)
    assert len(list(root.all("TR"))) > rooms + lines
    assert len(list(root.all("Figure"))) == rooms
    assert [each.tag for each in root.all(*WHOLE) if len(each.pages) > 1] == []
    headings_go_with_what_follows(root)
    tables_repeat_their_head(root, document, reader)
    pages_are_numbered(reader)


def headings_go_with_what_follows(root: Element) -> None:
    """A heading, or a sentence that leads to a table or a list, is not the last thing of a page.

    What follows a room's heading, its measures and its plan, is whole too.
    """
    for one, next_one in pairwise(root.children):
        leads = one.tag == "P" and next_one.tag == "L"
        if one.tag in ("H1", "H2", "H3") or leads:
            assert one.pages[-1] == next_one.pages[0], (one, next_one)
        if any(next_one.all("Figure")):
            assert one.pages == next_one.pages
    assert root.children[-2].pages == root.children[-1].pages, "nobody signs a page that says nothing"


def tables_repeat_their_head(root: Element, document: Document, reader: PdfReader) -> None:
    """On each page that a table reaches, above its rows there; sums stay with the last rows."""
    tables = list(tables_of(document.contents))
    found = list(root.all("Table"))
    assert len(found) == len(tables)
    for element, table in zip(found, tables, strict=True):
        for page in element.pages:
            text = plain(reader.pages[page].extract_text())
            assert all(column.name in text for column in table.columns)
        for foot in element.all("TFoot"):
            alone = len(list(foot.all("TR"))) == len(table.sums) + bool(table.note)
            assert not alone or len(element.pages) == 1


def pages_are_numbered(reader: PdfReader) -> None:
    for number, page in enumerate(reader.pages, 1):
        assert f"page {number} of {len(reader.pages)}" in plain(page.extract_text())


def tables_of(sections: Sequence[Section]) -> Iterator[Table]:
    for section in sections:
        yield from (block for block in section.blocks if isinstance(block, Table))
        yield from tables_of(section.parts)
