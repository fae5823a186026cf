"""Rows of a text file with separated columns."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import BinaryIO

from service.quoting.imports.errors import FileRefused

DELIMITERS = (";", "\t", ",", "|")
SAMPLE = 65_536
MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


@dataclass(frozen=True, slots=True)
class TextFormat:
    encoding: str
    delimiter: str


def text_format(file: BinaryIO, encoding: str | None, delimiter: str | None) -> TextFormat:
    """Encoding and delimiter, each as said or as seen; without a byte order mark UTF-8 is taken."""
    start = file.read(SAMPLE)
    file.seek(0)
    named = _text_encoding(encoding) if encoding else _by_mark(start)
    sample = codecs.getincrementaldecoder(named)("replace").decode(start)
    return TextFormat(named, delimiter or _guess(sample.splitlines()[:50]))


def _by_mark(start: bytes) -> str:
    return next((name for mark, name in MARKS if start.startswith(mark)), "utf-8")


def _text_encoding(name: str) -> str:
    try:
        "".encode(name)
        return codecs.lookup(name).name
    except (LookupError, ValueError):
        raise FileRefused(f"{name!r} is no text encoding that is known here.", "encoding") from None


def _guess(lines: Sequence[str]) -> str:
    """The delimiter that parts most lines into the same number of columns, then into the most."""

    def evenness(delimiter: str) -> tuple[int, int]:
        counts = Counter(len(cells) for cells in csv.reader(lines, delimiter=delimiter) if len(cells) > 1)
        columns, times = counts.most_common(1)[0] if counts else (0, 0)
        return times, columns

    return max(DELIMITERS, key=evenness)


def rows(file: BinaryIO, form: TextFormat) -> Iterator[list[str]]:
    """The rows one after the other; FileRefused where the file is not what its format says."""
    text = io.TextIOWrapper(file, form.encoding, newline="")
    reader = csv.reader(text, delimiter=form.delimiter)
    try:
        yield from reader
    except UnicodeDecodeError as error:
        where = f"after line {reader.line_num}"
        raise FileRefused(f"Not {form.encoding} ({error.reason}, {where}).", "encoding") from None
    except csv.Error as error:
        raise FileRefused(f"Line {reader.line_num}: {error}.", "delimiter") from None
    finally:
        text.detach()
