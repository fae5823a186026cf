"""Text that others wrote, made fit to be set: no control characters, directions kept apart."""

from __future__ import annotations

import re
import unicodedata

JOINERS = "\u200c\u200d"
"""Zero-width joiners, without which Persian, Indic and composed characters fall apart."""
FIRST_STRONG, POP = "\u2068", "\u2069"
RIGHT_TO_LEFT = frozenset({"R", "AL"})
LONGEST_RUN = 24
_RUN = re.compile(rf"\S{{{LONGEST_RUN + 1},}}")


def clean(said: str) -> str:
    """One line: what is not printable, also characters that turn the direction of others, is a space."""
    return " ".join("".join(c if c.isprintable() or c in JOINERS else " " for c in said).split())


def isolated(said: str) -> str:
    """`said` cleaned and, where it runs from right to left, kept from reordering its neighbours (UAX 9)."""
    name = clean(said)
    turned = any(unicodedata.bidirectional(c) in RIGHT_TO_LEFT for c in name)
    return f"{FIRST_STRONG}{name}{POP}" if turned else name


def paragraphs(said: str) -> tuple[str, ...]:
    """The paragraphs of a long text, which empty lines part."""
    found = (clean(part) for part in re.split(r"\n\s*\n", said))
    return tuple(part for part in found if part)


def breakable(said: str) -> str:
    """With places to break in runs so long that no column holds them."""
    return _RUN.sub(lambda run: "\u200b".join(_pieces(run[0])), said)


def _pieces(run: str) -> list[str]:
    return [run[at : at + LONGEST_RUN] for at in range(0, len(run), LONGEST_RUN)]
