"""Price files of an invented supplier, as text and as workbooks."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any

from openpyxl import Workbook

PLAIN = """Code,Description,Pack size,From packs,Net price
GR-1,Grout ash,10,1,24.50
GR-1,Grout ash,10,5,22.00
GR-2,Grout clay,25,1,51.00
"""
GERMAN = """Preisliste Birkenhof (erfunden);;;;
Artikelnummer;Bezeichnung;Inhalt;Ab Menge;Nettopreis
GR-1;Fuge grau, fein;10;1;24,50 €
GR-1;Fuge grau, fein;10;5;22,00 €
GR-2;Fuge lehm;25;1;1.051,00 €
"""


def workbook(rows: Iterable[Sequence[Any]]) -> bytes:
    """The rows as the first sheet of a workbook."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Prices")
    for row in rows:
        sheet.append(row)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def with_sheet(book: bytes, xml: bytes) -> bytes:
    """The workbook with this text in place of its first sheet."""
    source, target = zipfile.ZipFile(io.BytesIO(book)), io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as out:
        for part in source.infolist():
            sheet = part.filename == "xl/worksheets/sheet1.xml"
            out.writestr(part.filename, xml if sheet else source.read(part))
    return target.getvalue()
