"""The document as a tagged PDF (PDF/UA-1), set by typst.

Words reach the template as data, never as markup. Fonts are embedded: those that come with typst, and for
scripts that they lack those of the system.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from importlib import resources
from typing import Any, Literal

import typst

from service.render.document.blocks import Document
from service.render.document.text import breakable

_SOURCE = (resources.files("service.render.document") / "templates" / "document.typ").read_bytes()


def pdf(document: Document) -> bytes:
    """The file's bytes, the same for the same document.

    A letter that no font here has (PDF/UA-1 forbids those) is drawn as a box and kept as text: the file is
    then tagged all the same, but does not claim the standard.
    """
    inputs = {"document": json.dumps(_broken(asdict(document)), ensure_ascii=False)}
    try:
        return _compile(inputs, "ua-1")
    except typst.TypstError as error:
        if "could not be displayed" not in str(error):
            raise
        return _compile(inputs, None)


def _compile(inputs: dict[str, str], standard: Literal["ua-1"] | None) -> bytes:
    return typst.compile(
        _SOURCE,
        format="pdf",
        sys_inputs=inputs,
        font_paths=_fonts(),
        pdf_standards=standard,
    )


@cache
def _fonts() -> typst.Fonts:
    """Looked for once in a process."""
    return typst.Fonts()


def _broken(value: Any) -> Any:
    """With places to break in overlong runs of every text but drawings."""
    if isinstance(value, dict):
        return {name: inner if name == "svg" else _broken(inner) for name, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_broken(inner) for inner in value]
    return breakable(value) if isinstance(value, str) else value
