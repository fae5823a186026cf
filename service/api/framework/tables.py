"""Answers as CSV (RFC 4180), safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from flask import Response

MEDIA_TYPE = "text/csv"
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")  # wide forms count too
"""Beginnings by which a spreadsheet takes a text for a formula or loses its cell."""


def table(columns: Sequence[str], rows: Iterable[Mapping[str, Any]], name: str) -> Response:
    """The rows under a header, as a file of this name; a column that a row lacks is empty."""
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(columns)
    writer.writerows([cell(row.get(column)) for column in columns] for row in rows)
    headers = {"Content-Disposition": f'attachment; filename="{name}.csv"'}
    return Response(text.getvalue(), 200, headers, content_type="text/csv; charset=utf-8; header=present")


def cell(value: Any) -> Any:
    """The value as it is written: text that looks like a formula behind an apostrophe, None as nothing."""
    if isinstance(value, str) and value.lstrip(" ").startswith(FORMULA):
        return f"'{value}"
    return "" if value is None else value
