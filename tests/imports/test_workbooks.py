"""Workbooks that lie about their size, or unpack to more than they may."""

from __future__ import annotations

import io
import zipfile
from itertools import islice

import pytest

from service.quoting.imports import xlsx_rows
from service.quoting.imports.errors import FileRefused
from service.quoting.imports.source import MOST_ROWS, Options, open_source
from tests.imports.samples import with_sheet, workbook

ROWS = [["Code", "Pack size", "Price"], ["GR-1", 10, 24.5]]
NAMESPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def sheet(rows: str, dimension: str = "") -> bytes:
    text = f'<worksheet xmlns="{NAMESPACE}">{dimension}<sheetData>{rows}</sheetData></worksheet>'
    return with_sheet(workbook(ROWS), text.encode())


def row(number: int, *cells: str) -> str:
    return f'<row r="{number}">' + "".join(f"<c><v>{cell}</v></c>" for cell in cells) + "</row>"


def test_what_a_sheet_says_of_its_size_is_not_believed() -> None:
    book = sheet(row(1, "1", "2") + row(2, "3", "4"), '<dimension ref="A1:XFD1048576"/>')
    assert [cells[:3] for cells in xlsx_rows.rows(io.BytesIO(book))] == [(1, 2, None), (3, 4, None)]
    small = sheet(row(1, "1", "2") + row(2, "3", "4"), '<dimension ref="A1"/>')
    assert [cells[:3] for cells in xlsx_rows.rows(io.BytesIO(small))] == [(1, 2, None), (3, 4, None)]


def test_a_thousand_million_empty_rows_are_not_waited_for() -> None:
    book = with_sheet(workbook(ROWS), sheet_with_header(row(999_999_999, "1")))
    source = open_source(io.BytesIO(book), Options())
    with pytest.raises(FileRefused, match=str(MOST_ROWS)):
        list(source.rows)


def sheet_with_header(rest: str) -> bytes:
    cells = "".join(f'<c t="inlineStr"><is><t>{name}</t></is></c>' for name in ROWS[0])
    rows = f'<row r="1">{cells}</row>{rest}'
    return f'<worksheet xmlns="{NAMESPACE}"><sheetData>{rows}</sheetData></worksheet>'.encode()


def test_columns_far_out_are_passed_over() -> None:
    book = sheet('<row r="1"><c r="A1"><v>1</v></c><c r="XFD1"><v>2</v></c></row>')
    [cells] = xlsx_rows.rows(io.BytesIO(book))
    assert (cells[0], len(cells)) == (1, xlsx_rows.MOST_COLUMNS)


def test_one_row_of_any_length_is_refused_before_it_is_read() -> None:
    book = sheet(row(1, *["1"] * 120_000))
    with pytest.raises(FileRefused, match="row"):
        list(xlsx_rows.rows(io.BytesIO(book)))


@pytest.mark.parametrize("name", ["xl/sharedStrings.xml", "xl/worksheets/sheet9.xml"])
def test_a_small_file_that_unpacks_to_much_is_refused(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xlsx_rows, "MOST_UNPACKED", 3_000_000)
    monkeypatch.setattr(xlsx_rows, "MOST_STRINGS", 1_000_000)
    target = io.BytesIO(workbook(ROWS))
    with zipfile.ZipFile(target, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, b"<row></row>" * (180_000 if "shared" in name else 400_000))
    assert len(target.getvalue()) < 100_000
    with pytest.raises(FileRefused, match="MB"):
        list(islice(xlsx_rows.rows(target), 5))


def test_entities_that_multiply_are_refused() -> None:
    entities = '<!DOCTYPE a [<!ENTITY a "1111111111">' + "".join(
        f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(8)
    )
    text = f'{entities}]><worksheet xmlns="{NAMESPACE}"><sheetData>{row(1, "&i;")}</sheetData></worksheet>'
    with pytest.raises(FileRefused):
        list(xlsx_rows.rows(io.BytesIO(with_sheet(workbook(ROWS), text.encode()))))
