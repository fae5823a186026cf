"""The structure tree of a tagged PDF (ISO 32000-2, 14.7), each element with the pages that it stands on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pypdf import PdfReader


@dataclass(frozen=True)
class Element:
    """Marked content of itself and its children; what repeats on pages (artifacts) is not in the tree."""

    tag: str
    pages: tuple[int, ...]  # in the order of reading, each once
    children: tuple[Element, ...]

    def all(self, *tags: str) -> Iterator[Element]:
        """The elements of these tags, in the order of reading."""
        if self.tag in tags:
            yield self
        for child in self.children:
            yield from child.all(*tags)


def structure(reader: PdfReader) -> Element:
    numbers = {page.indirect_reference.idnum: number for number, page in enumerate(reader.pages)}
    return _element(reader.root_object["/StructTreeRoot"]["/K"], numbers)


def _element(node: Any, numbers: dict[int, int]) -> Element:
    node = node.get_object()
    node = node[0].get_object() if isinstance(node, list) else node
    kids = node.get("/K", [])
    pages: list[int] = []
    children: list[Element] = []
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object()
        if isinstance(kid, int):
            pages.append(numbers[node.raw_get("/Pg").idnum])
        elif kid.get("/Type") == "/MCR":
            pages.append(numbers[kid.raw_get("/Pg").idnum])
        elif "/S" in kid:
            children.append(_element(kid, numbers))
            pages += children[-1].pages
    return Element(node["/S"][1:], tuple(dict.fromkeys(pages)), tuple(children))
