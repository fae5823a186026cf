"""Rows of a workbook's first sheet, within bounds.

Cells are read as they stand: a formula comes as its text and is never worked out.
"""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from typing import Any, BinaryIO
from xml.etree.ElementTree import ParseError

from service.quoting.imports import xlsx_bounds
from service.quoting.imports.errors import FileRefused

MAGIC = b"PK\x03\x04"
MOST_COLUMNS = 60
_BROKEN = (
    *(zipfile.BadZipFile, zlib.error, EOFError, ParseError, OSError),
    *(KeyError, ValueError, TypeError, AttributeError, ArithmeticError, RuntimeError),
)
"""What the reader raises on workbooks that are cut off, encrypted, or not what they say."""


def is_workbook(file: BinaryIO) -> bool:
    start = file.read(len(MAGIC))
    file.seek(0)
    return start == MAGIC


def rows(file: BinaryIO) -> Iterator[tuple[Any, ...]]:
    """The rows of the first sheet, up to MOST_COLUMNS wide; FileRefused where it is none or too large."""
    # few requests and no start of the service want the reader
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        xlsx_bounds.check(file)
        book = load_workbook(file, read_only=True, data_only=False, keep_links=False)
        try:
            sheet = book.worksheets[0]
            sheet.reset_dimensions()  # what the sheet says of its size need not be so
            yield from sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True)
        finally:
            book.close()
    except (InvalidFileException, *_BROKEN) as error:
        raise FileRefused(f"The workbook cannot be read: {error}.") from None
    except IndexError:
        raise FileRefused("The workbook has no sheet.") from None
