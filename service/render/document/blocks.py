"""The composed document as plain blocks of finished text, which HTML and PDF only set in type.

Nothing in a block is markup: templates escape or quote every string.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Align = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Words:
    """A sentence; `lang` where it is in another language than the document."""

    text: str
    lang: str = ""
    head: str = ""  # set before it and strong, in the document's language
    where: str = ""  # set behind the head, in brackets
    colon: str = ":"  # between them and the sentence


@dataclass(frozen=True, slots=True)
class Paragraph:
    words: Words
    tone: Literal["plain", "small", "banner"] = "plain"
    kind: Literal["paragraph"] = "paragraph"


@dataclass(frozen=True, slots=True)
class Bullets:
    items: tuple[Words, ...]
    kind: Literal["bullets"] = "bullets"


@dataclass(frozen=True, slots=True)
class Facts:
    """Names with their values, in two columns."""

    rows: tuple[tuple[str, str], ...]
    kind: Literal["facts"] = "facts"


@dataclass(frozen=True, slots=True)
class Column:
    name: str
    align: Align = "left"
    width: Literal["words", "figure", "short"] = "words"


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head that is repeated on every page; sums and the note are kept with the last rows.

    No row is torn by a page. A row of one cell is a heading within the table. Of a sum the name and the
    amount are given, and whether it stands out.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    sums: tuple[tuple[str, str, bool], ...] = ()
    note: str = ""  # below the sums
    kind: Literal["table"] = "table"


@dataclass(frozen=True, slots=True)
class Drawing:
    """An SVG with the words that stand for it where it is not seen."""

    svg: str
    alt: str
    width_mm: float
    height_mm: float
    kind: Literal["drawing"] = "drawing"


@dataclass(frozen=True, slots=True)
class Signatures:
    """Places to sign, each with what goes on its line."""

    places: tuple[tuple[str, ...], ...]
    kind: Literal["signatures"] = "signatures"


Block = Paragraph | Bullets | Facts | Table | Drawing | Signatures


@dataclass(frozen=True, slots=True)
class Section:
    heading: str
    blocks: tuple[Block, ...] = ()
    parts: tuple[Section, ...] = ()


@dataclass(frozen=True, slots=True)
class Document:
    language: str
    paper: str
    title: str
    running: str  # at the foot of every page
    page: str  # "page {0} of {1}"
    draft: str  # the word over every page of a draft, empty otherwise
    sender: str
    sender_lines: tuple[str, ...]
    recipient: tuple[str, ...]
    recipient_label: str
    contents: tuple[Section, ...] = field(default=())
    facts: Facts = Facts(())
    banners: tuple[Paragraph, ...] = ()
