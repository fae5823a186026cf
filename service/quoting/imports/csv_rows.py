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
ENCODINGS = frozenset(
    [
        "utf-8",
        "utf-8-sig",
        "utf-16",
        "utf-16-le",
        "utf-16-be",
        "utf-32",
        "ascii",
        "iso8859-1",
        "iso8859-2",
        "iso8859-3",
        "iso8859-4",
        "iso8859-5",
        "iso8859-7",
        "iso8859-9",
        "iso8859-10",
        "iso8859-13",
        "iso8859-14",
        "iso8859-15",
        "iso8859-16",
        "cp1250",
        "cp1251",
        "cp1252",
        "cp1253",
        "cp1254",
        "cp1257",
        "cp437",
        "cp850",
        "cp852",
        "cp857",
        "cp858",
        "cp866",
        "mac-roman",
        "koi8-r",
        "koi8-u",
        "gb2312",
        "gbk",
        "gb18030",
        "big5",
        "shift_jis",
        "cp932",
        "euc_jp",
        "euc_kr",
        "cp949",
    ]
)
"""As Python's codecs name them: those that files are written in. Others are no text (idna, base64), or turn
escapes into characters (utf-7, unicode_escape)."""
ALSO = {"latin-9": "iso8859-15", "latin_9": "iso8859-15"}
"""Common names that Python's codecs lack."""
MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


@dataclass(frozen=True, slots=True)
class TextFormat:
    encoding: str
    delimiter: str


class Unended(list[str]):
    """The last row of a file that does not end its last line: it may be cut off."""


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
        found = codecs.lookup(ALSO.get(name.strip().lower(), name)).name
    except (LookupError, ValueError):
        found = ""
    if found not in ENCODINGS:
        raise FileRefused(f"{name!r} is no text encoding that is read here.", "encoding")
    return found


def _guess(lines: Sequence[str]) -> str:
    """The delimiter that parts most lines into the same number of columns, then into the most."""

    def evenness(delimiter: str) -> tuple[int, int]:
        counts = Counter(len(cells) for cells in csv.reader(lines, delimiter=delimiter) if len(cells) > 1)
        columns, times = counts.most_common(1)[0] if counts else (0, 0)
        return times, columns

    return max(DELIMITERS, key=evenness)


def rows(file: BinaryIO, form: TextFormat) -> Iterator[list[str]]:
    """The rows one after the other; FileRefused where the file is not what its format says.

    A quoted cell stays within its line: one that does not lacks a quote, and takes in what follows.
    """
    ended = _is_ended(file)
    text = io.TextIOWrapper(file, form.encoding, newline="")
    reader = csv.reader(text, delimiter=form.delimiter, strict=True)
    last: list[str] | None = None
    number = 0
    try:
        for number, row in enumerate(reader, start=1):
            if reader.line_num != number:
                raise FileRefused(f"Row {number}: a quoted cell goes on in the next line; a quote lacks.")
            if last is not None:
                yield last
            last = row
    except UnicodeDecodeError as error:
        where = f"after line {reader.line_num}"
        raise FileRefused(f"Not {form.encoding} ({error.reason}, {where}).", "encoding") from None
    except csv.Error as error:
        quote = "a quoted cell has no end" if "end of data" in str(error) else str(error)
        raise FileRefused(f"Row {number + 1}: {quote}.", "delimiter") from None
    finally:
        text.detach()
    if last is not None:
        yield last if ended else Unended(last)


def _is_ended(file: BinaryIO) -> bool:
    """Whether the file's last line has its end, in whatever encoding."""
    size = file.seek(0, io.SEEK_END)
    file.seek(max(0, size - 4))
    tail = file.read().rstrip(b"\0")
    file.seek(0)
    return tail.endswith((b"\n", b"\r"))
