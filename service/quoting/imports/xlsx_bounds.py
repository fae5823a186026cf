"""Bounds of a workbook, looked at before it is read: a small archive may unpack to any size.

Every part is walked through by the parser that reads it later, and nothing of it is kept. The reader drops a
row or a shared string when it is over, so each of these is bounded, and whatever lies outside of them.
"""

from __future__ import annotations

import zipfile
from typing import BinaryIO
from xml.parsers import expat

from service.quoting.imports.errors import FileRefused

MOST_UNPACKED = 300_000_000
MOST_PARTS = 1000
MOST_STRINGS = 40_000_000
MOST_ELEMENTS = 8_000_000
MOST_ROWS = 1_000_000
MOST_OF_ONE_ROW = 1_000_000
MOST_ELEMENTS_OF_ONE_ROW = 50_000
MOST_TEXT = 4 * 32_767
"""Bytes between two tags, and of one tag: a cell holds up to 32,767 characters (ECMA-376-1, 18.18.37)."""
DEEPEST = 40
CHUNK = 65_536
METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""Of compression: those that a package may use (ECMA-376-2, annex B); others unpack without bound."""
SHEET = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
DROPPED = {(f"{SHEET} worksheet", 3, f"{SHEET} row"), (f"{SHEET} sst", 2, f"{SHEET} si")}
"""Root, depth and name of the elements that the reader drops after each."""


def check(file: BinaryIO) -> None:
    """FileRefused where a part, a row, a cell or the whole is over its bound, or entities are declared."""
    with zipfile.ZipFile(file) as archive:
        parts = archive.infolist()
        if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
            raise FileRefused(f"The workbook unpacks to more than {_megabytes(MOST_UNPACKED)}.")
        elements = 0
        for part in parts:
            if part.compress_type not in METHODS:
                raise FileRefused(f"{part.filename} is not compressed as a workbook's parts are.")
            elements += _Walk(part, MOST_ELEMENTS - elements).through(archive)
    file.seek(0)


def _megabytes(size: int) -> str:
    return f"{size // 10**6} MB"


class _Walk:
    """One part walked through. Positions are bytes from its start, of the parser's latest event."""

    def __init__(self, part: zipfile.ZipInfo, most_elements: int) -> None:
        self._part = part
        self._most_elements = most_elements
        self._parser = expat.ParserCreate(namespace_separator=" ")
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.StartDoctypeDeclHandler = self._doctype
        self._depth = self._elements = self._of_row = self._rows = 0
        self._event = self._row_end = 0
        self._root = ""

    def through(self, archive: zipfile.ZipFile) -> int:
        """How many elements it has; a part that is no XML ends where the reader's parser would end."""
        fed = 0
        with archive.open(self._part) as stream:
            while chunk := stream.read(CHUNK):
                fed += len(chunk)
                try:
                    self._parser.Parse(chunk, False)
                except expat.ExpatError:
                    break
                if fed - self._event > MOST_TEXT + CHUNK:
                    self._refuse(f"holds a text or a tag of over {MOST_TEXT // 1000} kB")
        return self._elements

    def _start(self, name: str, attributes: object) -> None:
        self._root = self._root or name
        self._depth += 1
        self._elements += 1
        self._of_row += 1
        self._look()
        if self._of_row > MOST_ELEMENTS_OF_ONE_ROW:
            self._refuse(f"has a row of over {MOST_ELEMENTS_OF_ONE_ROW} elements")
        if self._elements > self._most_elements:
            self._refuse(f"brings the workbook over {MOST_ELEMENTS} elements")
        if self._depth > DEEPEST:
            self._refuse(f"is nested over {DEEPEST} deep")

    def _end(self, name: str) -> None:
        self._look()
        if (self._root, self._depth, name) in DROPPED:
            self._over(name)
        self._depth -= 1

    def _look(self) -> None:
        event = self._parser.CurrentByteIndex
        if event - self._event > MOST_TEXT:
            self._refuse(f"holds a text or a tag of over {MOST_TEXT // 1000} kB")
        if event - self._row_end > MOST_OF_ONE_ROW:
            self._refuse(f"has a row or other piece of over {_megabytes(MOST_OF_ONE_ROW)}")
        self._event = event

    def _over(self, name: str) -> None:
        self._rows += 1
        self._of_row = 0
        self._row_end = self._event
        if self._rows > MOST_ROWS:
            self._refuse(f"has over {MOST_ROWS} rows")
        if name.endswith("si") and self._event > MOST_STRINGS:
            self._refuse(f"has texts of over {_megabytes(MOST_STRINGS)}")

    def _doctype(self, *_: object) -> None:
        self._refuse("declares a document type, which may hold entities")

    def _refuse(self, why: str) -> None:
        raise FileRefused(f"{self._part.filename} {why}.")
