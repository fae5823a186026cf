"""Rows of a workbook's first sheet, within bounds: a small file may claim or unpack to any size.

Cells are read as they stand: a formula comes as its text and is never worked out.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from typing import Any, BinaryIO
from xml.etree.ElementTree import ParseError

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from service.quoting.imports.errors import FileRefused

MAGIC = b"PK\x03\x04"
MOST_UNPACKED = 300_000_000
MOST_STRINGS = 40_000_000
MOST_OF_ONE_ROW = 1_000_000
MOST_COLUMNS = 60
MOST_PARTS = 1000
CHUNK = 262_144
_BROKEN = (InvalidFileException, zipfile.BadZipFile, ParseError, KeyError, ValueError, TypeError, OSError)


def is_workbook(file: BinaryIO) -> bool:
    start = file.read(len(MAGIC))
    file.seek(0)
    return start == MAGIC


def rows(file: BinaryIO) -> Iterator[tuple[Any, ...]]:
    """The rows of the first sheet, up to MOST_COLUMNS wide; FileRefused where it is none or too large."""
    try:
        _check_sizes(file)
        book = load_workbook(file, read_only=True, data_only=False, keep_links=False)
        try:
            sheet = book.worksheets[0]
            sheet.reset_dimensions()  # what the sheet says of its size need not be so
            yield from sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True)
        finally:
            book.close()
    except _BROKEN as error:
        raise FileRefused(f"The workbook cannot be read: {error}.") from None
    except IndexError:
        raise FileRefused("The workbook has no sheet.") from None


def _check_sizes(file: BinaryIO) -> None:
    """Sizes as the archive states them, which its reader holds to, and no row beyond its bound."""
    with zipfile.ZipFile(file) as archive:
        parts = archive.infolist()
        if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
            raise FileRefused(f"The workbook unpacks to more than {MOST_UNPACKED // 10**6} MB.")
        for part in parts:
            name = part.filename.lower()
            if name.endswith(".xml") and "worksheets/" not in name and part.file_size > MOST_STRINGS:
                raise FileRefused(f"{part.filename} is over {MOST_STRINGS // 10**6} MB.")
            if "worksheets/" in name and part.file_size > MOST_OF_ONE_ROW:
                _check_rows(archive, part)
    file.seek(0)


def _check_rows(archive: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    """The reader holds one row at a time in memory, so no row may be of any size."""
    since = 0
    with archive.open(part) as stream:
        while chunk := stream.read(CHUNK):
            ended = chunk.rfind(b"row>")
            since = len(chunk) - ended if ended >= 0 else since + len(chunk)
            if since > MOST_OF_ONE_ROW:
                raise FileRefused(f"A row of {part.filename} is over {MOST_OF_ONE_ROW // 10**6} MB.")
