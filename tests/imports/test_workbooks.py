"""Workbooks that lie about their size, or unpack to more than they may."""

from __future__ import annotations

import io
import subprocess
import sys
import zipfile
from itertools import islice
from pathlib import Path

import pytest

from service.quoting.imports import xlsx_bounds, xlsx_rows
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


@pytest.mark.parametrize(
    ("name", "repeats"), [("xl/sharedStrings.xml", 180_000), ("xl/worksheets/sheet9.xml", 400_000)]
)
def test_a_small_file_that_unpacks_to_much_is_refused(
    name: str, repeats: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(xlsx_bounds, "MOST_UNPACKED", 3_000_000)
    monkeypatch.setattr(xlsx_bounds, "MOST_STRINGS", 1_000_000)
    target = io.BytesIO(workbook(ROWS))
    with zipfile.ZipFile(target, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, b"<sst xmlns='%s'>%s</sst>" % (NAMESPACE.encode(), b"<si></si>" * repeats))
    assert len(target.getvalue()) < 100_000
    with pytest.raises(FileRefused, match="MB"):
        list(islice(xlsx_rows.rows(target), 5))


def test_entities_that_multiply_are_refused() -> None:
    entities = '<!DOCTYPE a [<!ENTITY a "1111111111">' + "".join(
        f'<!ENTITY {chr(98 + n)} "{f"&{chr(97 + n)};" * 10}">' for n in range(8)
    )
    text = f'{entities}]><worksheet xmlns="{NAMESPACE}"><sheetData>{row(1, "&i;")}</sheetData></worksheet>'
    with pytest.raises(FileRefused, match="document type"):
        list(xlsx_rows.rows(io.BytesIO(with_sheet(workbook(ROWS), text.encode()))))


def inline(text: str) -> str:
    return f'<c t="inlineStr"><is><t>{text}</t></is></c>'


HOSTILE = {
    "row end in text": "<row>" + inline("row>" * 8000) * 400 + "</row>",
    "one text": "<row>" + inline("x" * 12_000_000) + "</row>",
    "one attribute": f'<row a="{"x" * 12_000_000}"/>',
    "one comment": f"<!--{'x' * 12_000_000}--><row/>",
    "rows in a row": "<row>" + "<row/>" * 2_000_000 + "</row>",
    "other elements": "<other/>" * 1_500_000,
    "nested": "<a>" * 1000 + "</a>" * 1000,
    "strings in a sheet": "</sheetData>" + "<si/>" * 2_000_000 + "<sheetData>",
    "rows of another kind": '<row xmlns="urn:other"/>' * 500_000,
}
MEASURED = """
import re, resource, sys
from service.quoting.imports import xlsx_rows
from service.quoting.imports.errors import FileRefused
def peak(): return int(re.search(r"VmHWM:\\s*([0-9]+)", open("/proc/self/status").read())[1]) // 1024
for path in sys.argv[1:]:
    before = peak()
    try:
        for _ in xlsx_rows.rows(open(path, "rb")): pass
        print(path, "taken")
    except FileRefused as refused:
        used = resource.getrusage(resource.RUSAGE_SELF).ru_utime
        print(peak() - before, used, refused)
"""


def test_hostile_sheets_take_neither_memory_nor_time(tmp_path: Path) -> None:
    """Each unpacks to several MB (the first to 12); read whole they take over 100 MB each."""
    paths = [tmp_path / f"{number}.xlsx" for number in range(len(HOSTILE))]
    for path, rows in zip(paths, HOSTILE.values(), strict=True):
        path.write_bytes(sheet(rows))
        assert path.stat().st_size < 200_000
    command = [sys.executable, "-W", "ignore::ResourceWarning", "-c", MEASURED, *map(str, paths)]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    assert len(told) == len(HOSTILE)
    assert max(int(line.split()[0]) for line in told) < 25, told
    assert float(told[-1].split()[1]) < 10, "processor seconds of all"


def test_other_compression_than_a_workbooks_is_refused() -> None:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_BZIP2) as archive:
        archive.writestr("xl/workbook.xml", b" " * 1000)
    with pytest.raises(FileRefused, match="compressed"):
        list(xlsx_rows.rows(target))
