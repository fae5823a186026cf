"""Which column of a file holds what: as the office says, else by the words that head it."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

from service.quoting.imports.errors import FileRefused

PRICES = ("price", "list_price", "price_per_unit", "price_per_m2")
NAMING = ("code", "name", "supplier_code")
ONCE = (*PRICES, "pack_size", "min_packs", "m2_per_pack", "percent", "currency", "supplier_code", "split")
"""Fields that two columns may not head: the wrong one would be taken without a word."""
HEADER_WITHIN = 20
"""A title, an address or a date may stand above the header: it is looked for in this many rows."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the file: its heading, its place from 0, the field it was taken for, and who said so."""

    heading: str
    place: int
    field: str | None
    guessed: bool = False


@dataclass(frozen=True, slots=True)
class Header:
    """The header of a file and the row, from 1, in which it stands."""

    row: int
    columns: tuple[Column, ...]

    @property
    def places(self) -> dict[str, int]:
        return {column.field: column.place for column in self.columns if column.field}

    def heading_of(self, field: str) -> str:
        return next((column.heading for column in self.columns if column.field == field), field)


@cache
def words() -> Mapping[str, str]:
    """Every known heading, as `plain` writes it, with its field."""
    table = tomllib.loads((resources.files(__package__) / "header_words.toml").read_text("utf-8"))
    return {plain(word): field for field, listed in table.items() for word in (field, *listed)}


@cache
def fields() -> tuple[str, ...]:
    return tuple(dict.fromkeys(words().values()))


def plain(heading: str) -> str:
    """A heading in lower case, with single blanks for what is neither letter, digit, % nor /."""
    return " ".join(re.sub(r"[^\w%/²]+|_", " ", heading.casefold()).split())


def find_header(rows: Sequence[Sequence[str]], said: Mapping[str, str]) -> Header:
    """The header among a file's first rows; `said` maps headings to fields.

    FileRefused where none is found, where what was said is not there, or where it names neither a product
    nor a price.
    """
    for number, cells in enumerate(rows[:HEADER_WITHIN], start=1):
        found = _read(cells, said)
        if _serves(found, said):
            _check_once(found)
            return Header(number, found)
    seen = next((cells for cells in rows if any(cells)), ())
    listed = ", ".join(repr(cell) for cell in seen[:20] if cell)
    raise FileRefused(
        f"No row heads a product (code, name or supplier_code) and a price; the first row has: {listed}.",
        "map",
    )


def _check_once(columns: Sequence[Column]) -> None:
    """FileRefused where two headings mean one field, and which counts was not said."""
    for taken in columns:
        meant = [other.heading for other in columns if taken.field in ONCE and _rivals(taken, other)]
        if meant:
            both = ", ".join(map(repr, (taken.heading, *meant)))
            raise FileRefused(f"Several columns head {taken.field}: {both}; say which.", "map")


def _rivals(taken: Column, other: Column) -> bool:
    """Another column that may have been meant: of the same heading, or guessed to be the same."""
    if other is taken:
        return False
    heading = plain(other.heading)
    same = heading == plain(taken.heading)
    return same or (taken.guessed and other.field is None and words().get(heading) == taken.field)


def _read(cells: Sequence[str], said: Mapping[str, str]) -> tuple[Column, ...]:
    by_heading = {plain(heading): field for heading, field in said.items()}
    taken = set(by_heading.values())
    columns = []
    for place, cell in enumerate(cells):
        heading = plain(cell)
        guess = words().get(heading)
        if heading in by_heading:
            columns.append(Column(cell, place, by_heading.pop(heading)))
        elif guess is not None and guess not in taken:
            taken.add(guess)
            columns.append(Column(cell, place, guess, guessed=True))
        else:
            columns.append(Column(cell, place, None))
    return tuple(columns)


def _serves(columns: Sequence[Column], said: Mapping[str, str]) -> bool:
    named = {column.field for column in columns}
    complete = named & set(NAMING) and named & set(PRICES)
    return bool(complete) and set(said.values()) <= named
