"""What an import did, or would do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from uuid import UUID

from service.quoting.imports.columns import Column
from service.quoting.imports.numbers import DecimalMark
from service.quoting.imports.rows import Rejected

SAMPLES = 100
"""Rows of each kind that a report shows; the counts are of all."""


@dataclass(frozen=True, slots=True)
class Format:
    """How the file was read: csv with its encoding and delimiter, or xlsx; the decimal mark of its text."""

    kind: str
    encoding: str | None
    delimiter: str | None
    decimal: DecimalMark
    header_row: int


@dataclass(frozen=True, slots=True)
class Report:
    """The counts are of all rows or prices, the lists show up to SAMPLES of each kind.

    `missing` names what must still be said for the list to go live: accept_rejected, confirm_jumps.
    """

    price_list_id: UUID
    dry_run: bool
    unchanged: bool
    activated: bool
    missing: tuple[str, ...]
    format: Format
    columns: tuple[Column, ...]
    rows: int
    counts: Mapping[str, int]
    new: Sequence[Mapping[str, Any]]
    changed: Sequence[Mapping[str, Any]]
    gone: Sequence[Mapping[str, Any]]
    jumps: Sequence[Mapping[str, Any]]
    rejected: Sequence[Rejected]
    jump_limit_percent: Decimal
