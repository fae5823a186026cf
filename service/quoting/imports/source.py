"""A file opened as a price table: its format and header found, its rows to come."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from typing import Any, BinaryIO

from service.quoting.imports import csv_rows, xlsx_rows
from service.quoting.imports.columns import PRICES, Header, find_header
from service.quoting.imports.errors import FileRefused
from service.quoting.imports.numbers import (
    NO_MARKS,
    DecimalMark,
    Marks,
    doubtful_marks,
    guess_mark,
    leaves_open,
)
from service.quoting.imports.report import Format

LOOKED_AT = 1000
MOST_ROWS = 1_000_000
FIGURES = (*PRICES, "pack_size", "min_packs", "m2_per_pack", "percent", "weight_kg")
Rows = Iterator[Sequence[Any]]


@dataclass(frozen=True, slots=True)
class Options:
    """What the office says about a file and wants done with it; what is left out is guessed or not done."""

    encoding: str | None = None
    delimiter: str | None = None
    decimal: DecimalMark | None = None
    columns: Mapping[str, str] = field(default_factory=dict)  # heading -> field
    dry_run: bool = False
    create_products: bool = False
    activate: bool = False
    accept_rejected: bool = False
    confirm_jumps: bool = False


@dataclass(frozen=True, slots=True)
class Source:
    """The table in a file. `rows` gives each row under the header that has a cell, with its number from 1;
    `doubtful` are the marks of which the rows looked at for the decimal mark do not tell what they are."""

    format: Format
    header: Header
    rows: Iterator[tuple[int, Sequence[Any]]]
    doubtful: Marks = NO_MARKS


def open_source(file: BinaryIO, options: Options, advance: Callable[[int], None] | None = None) -> Source:
    """Find format and header; FileRefused where they cannot be found. `advance` is told each row's number."""
    workbook = xlsx_rows.is_workbook(file)
    form = None if workbook else csv_rows.text_format(file, options.encoding, options.delimiter)
    rows: Rows = xlsx_rows.rows(file) if form is None else csv_rows.rows(file, form)
    first = list(islice(rows, LOOKED_AT))
    header = find_header([[_heading(cell) for cell in cells] for cells in first[:50]], options.columns)
    figures = _figures(first[header.row :], header)
    mark = options.decimal or _mark(figures, form)
    doubtful = NO_MARKS if options.decimal else doubtful_marks(figures, mark)
    told = Format(
        kind="xlsx" if form is None else "csv",
        encoding=form.encoding if form else None,
        delimiter=form.delimiter if form else None,
        decimal=mark,
        header_row=header.row,
    )
    return Source(told, header, _numbered(chain(first, rows), header.row, advance), doubtful)


def _heading(cell: Any) -> str:
    return cell.strip() if isinstance(cell, str) else ""


def _figures(rows: Sequence[Sequence[Any]], header: Header) -> list[str]:
    """Those that are written as text."""
    places = [header.places[name] for name in FIGURES if name in header.places]
    cells = (row[place] for row in rows for place in places if place < len(row))
    return [cell for cell in cells if isinstance(cell, str)]


def _mark(texts: Sequence[str], form: csv_rows.TextFormat | None) -> DecimalMark:
    guess = guess_mark(texts)
    if guess is not None:
        return guess
    if leaves_open(texts):
        raise FileRefused("The figures leave open whether the decimal mark is a comma or a point.", "decimal")
    return "," if form is not None and form.delimiter == ";" else "."


def _numbered(
    rows: Rows, header_row: int, advance: Callable[[int], None] | None
) -> Iterator[tuple[int, Sequence[Any]]]:
    for number, cells in enumerate(rows, start=1):
        if number > MOST_ROWS:
            raise FileRefused(f"More than {MOST_ROWS} rows.")
        if advance is not None and number % 1000 == 0:
            advance(number)
        if number > header_row and any(cell not in (None, "") for cell in cells):
            yield number, cells
