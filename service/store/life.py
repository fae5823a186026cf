"""The life of a revision as data: what may follow on what, for code, database and the API's text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, get_args

Kind = Literal["draft", "issued", "accepted", "declined", "withdrawn", "expired", "superseded"]
"""What happens to a revision; the last that happened is its state."""
KINDS: tuple[Kind, ...] = get_args(Kind)
QUOTE_STATES: tuple[Kind, ...] = tuple(kind for kind in KINDS if kind != "superseded")
"""A quote is never superseded: the revision that took the place of another stands for it."""
OPEN_STATES: tuple[Kind, ...] = ("draft", "issued")

FOLLOWS: Mapping[Kind, tuple[Kind, ...]] = {
    "draft": ("issued", "withdrawn", "superseded"),
    "issued": ("accepted", "declined", "withdrawn", "expired", "superseded"),
    "accepted": (),
    "declined": (),
    "withdrawn": (),
    "expired": (),
    "superseded": (),
}
"""What may follow on each state. A revision begins as a draft."""


def may_follow(last: Kind | None, kind: Kind) -> bool:
    """Whether `kind` may happen to a revision that is in the state `last` (None: just written)."""
    return kind == "draft" if last is None else kind in FOLLOWS[last]


def as_sql() -> str:
    """The table as rows (last, next) of a VALUES list, the beginning with NULL."""
    pairs = [("NULL", "draft"), *((f"'{last}'", kind) for last, kinds in FOLLOWS.items() for kind in kinds)]
    return ", ".join(f"({last}, '{kind}')" for last, kind in pairs)


def as_text() -> str:
    """The table for readers, one state a line."""
    told = (f"- {last} → {', '.join(kinds) or 'nothing, it is final'}" for last, kinds in FOLLOWS.items())
    return "\n".join(told)
