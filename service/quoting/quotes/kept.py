"""What is kept of a quote's prices: each line a row, each total a column, the rest as JSON; and read back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID

from service.pricing.buying import Basket
from service.pricing.model import Cutting, Exchange, Line, Notice, Payment, Priced, TaxLine, Totals
from service.quoting.snapshot import from_json, to_json
from service.store.models import QuoteLine, QuoteRevision

T = TypeVar("T")

RENAMED = {
    "group": "uplift_group",
    "supplier": "supplier_id",
    "product": "product_id",
    "price_list": "price_list_id",
}
"""The members of a line whose column has another name; three of them hold ids."""
REST = ("taxes", "stages")
SUMS = tuple(field.name for field in fields(Totals) if field.name not in REST)


def kept_lines(priced: Priced | None) -> list[dict[str, Any]]:
    """The columns of each line."""
    return [line_row(line) for line in priced.lines] if priced else []


def kept_sums(priced: Priced | None) -> dict[str, Decimal | None]:
    """The totals that have columns; None each where there is no price."""
    totals = priced.totals if priced else None
    return {name: getattr(totals, name, None) for name in SUMS}


def kept_rest(priced: Priced | None) -> dict[str, Any]:
    """All else that says anything."""
    if priced is None or priced.totals is None:
        return {}
    of_totals = {name: getattr(priced.totals, name) for name in REST}
    rest = {**of_totals, "basket": priced.basket, "notices": priced.notices}
    return {name: to_json(value) for name, value in rest.items() if value}


def priced_of(revision: QuoteRevision, lines: Sequence[QuoteLine]) -> Priced | None:
    """The prices of a revision; None for a floor that must not be built so."""
    if revision.net is None:
        return None
    rest: Mapping[str, Any] = revision.rest
    sums: dict[str, Any] = {name: getattr(revision, name) for name in SUMS}
    return Priced(
        currency=revision.currency,
        lines=tuple(map(_line, lines)),
        totals=Totals(
            **sums,
            taxes=from_json(rest.get("taxes", ()), tuple[TaxLine, ...]),
            stages=from_json(rest.get("stages", ()), tuple[Payment, ...]),
        ),
        notices=from_json(rest.get("notices", ()), tuple[Notice, ...]),
        basket=_read(rest.get("basket"), Basket),
    )


def line_row(line: Line) -> dict[str, Any]:
    """The columns of a line."""
    row = {RENAMED.get(field.name, field.name): getattr(line, field.name) for field in fields(Line)}
    for name in ("supplier_id", "product_id", "price_list_id"):
        row[name] = UUID(row[name]) if row[name] else None
    for name in ("cutting", "exchange"):
        row[name] = to_json(row[name]) if row[name] else None
    return {**row, "rooms": list(line.rooms), "needs": list(line.needs)}


def _line(row: QuoteLine) -> Line:
    values = {field.name: getattr(row, RENAMED.get(field.name, field.name)) for field in fields(Line)}
    for name in ("supplier", "product", "price_list"):
        values[name] = str(values[name]) if values[name] else None
    read = {"cutting": _read(row.cutting, Cutting), "exchange": _read(row.exchange, Exchange)}
    return Line(**{**values, **read, "rooms": tuple(row.rooms), "needs": tuple(row.needs)})


def _read(value: Any, kind: type[T]) -> T | None:
    return from_json(value, kind) if value else None
