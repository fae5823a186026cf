"""One part of a run: its quotes taken, their figures handed out as arrays and taken back, the counts noted."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import TextClause, func, select, text, update
from sqlalchemy.orm import Session

from service.pricing.terms import SEEN
from service.store import rows
from service.store.models import Repricing, RepricingPart
from service.store.repricing.selection import Selection
from service.store.repricing.sql import choosing, finding, lining, tables, writing

HEADER, TRAILER = 19, 2
"""Bytes around the rows of a binary COPY (PostgreSQL, COPY, "Binary Format")."""
COUNTS = ("looked_at", "visited", "changed", "revised", "conflicts", "within_limits", "unpriceable")
TOTALS = (
    "n", "event_id", "other_event_id", "revise", "on_cost", "terms", "taxes", "basket", *tables.SUMS, "rest",
)  # fmt: skip
AMOUNT_ROW = [(name, ">i4") for name in ("n", "kind", "group", "moved")] + [
    (name, ">i8") for name in ("amount", "charged", "old_charged")
]
PRICE_ROW = [("n", ">i4"), ("position", ">i4"), ("price", ">i8")]


@dataclass(frozen=True, slots=True)
class Asked:
    """What the statements of a part are told."""

    run: Repricing
    part: RepricingPart
    selection: Selection
    now: datetime
    today: date
    engine_version: str

    @property
    def parameters(self) -> dict[str, Any]:
        run = self.run
        return {
            "org_id": run.org_id, "run": run.id, "began_at": run.began_at, "first": self.part.first_quote,
            "last": self.part.last_quote, "price_date": run.price_date, "key_id": run.key_id, "now": self.now,
            "today": self.today, "engine_version": self.engine_version, "choose": run.choice == "choose", "seen": sorted(SEEN),
            "note": f"Repriced for {run.price_date}",
            **self.selection.parameters,
        }  # fmt: skip


def take_part(session: Session, run: Repricing, number: int) -> RepricingPart | None:
    """The part, nobody else's until the transaction ends; None where it is done."""
    part = rows.lock(session, RepricingPart, run.id, number)
    return None if part is None or part.done_at else part


@contextmanager
def unprepared(session: Session) -> Iterator[None]:
    """No statement of a part is prepared: each has its own range of keys and row counts, and a plan made for
    any would expect few rows. (The setting `plan_cache_mode` would do as much for these, but also have the
    check of each foreign key planned anew: three times the work of inserting lines.)"""
    driver = _driver(session)
    usual = driver.prepare_threshold
    driver.prepare_threshold = None
    try:
        yield
    finally:
        driver.prepare_threshold = usual


def find(session: Session, asked: Asked) -> None:
    """Work out which quotes of the part are visited, with their lines at the prices of the run."""
    told, chooses = asked.parameters, asked.run.choice == "choose"
    session.execute(text(tables.PLANNED))
    session.execute(text(tables.TABLES))
    session.execute(finding.WORK_CHOOSING if chooses else finding.WORK, told)
    session.execute(text("ANALYZE reprice_work"))
    session.execute(finding.WITH_OPTIONS, told)
    session.execute(lining.LINES, told)
    session.execute(finding.UNPRICEABLE, told)
    if chooses:
        session.execute(finding.LACKING)


def settle(session: Session, asked: Asked) -> Sequence[Mapping[str, Any]]:
    """The quotes that are visited, by number; in a run that revises nobody else changes them from here on."""
    told = asked.parameters
    if asked.run.mode == "revise":
        session.execute(finding.LOCK, told)
    session.execute(finding.CLOSED)
    return _rows_of(session, finding.FOUND, told)


def needs(session: Session, asked: Asked) -> Sequence[Mapping[str, Any]]:
    """What the quotes need that may be bought anew: take-off's materials and how it was asked to buy, as JSON
    texts, and what their goods and delivery cost as they are held, in minor units."""
    return _rows_of(session, choosing.NEEDS, asked.parameters)


def leave(session: Session, reasons: Mapping[int, str]) -> None:
    """Put down why these quotes, by number, cannot be repriced."""
    if reasons:
        session.execute(choosing.LEFT, {"numbers": list(reasons), "reasons": list(reasons.values())})


def take(
    session: Session, baskets: Mapping[int, Iterable[Mapping[str, Any]]], taken: Mapping[int, int]
) -> None:
    """Put new lines in the place of what quotes bought: `baskets` are the columns of the lines of each, `taken`
    the basket of each quote by number."""
    session.execute(text(tables.CHOOSING))
    cursor = _driver(session).cursor()
    names = ("basket", "position", *tables.LINE_COLUMNS, "amount")
    with cursor.copy(f"COPY reprice_baskets ({', '.join(names)}) FROM STDIN") as copy:
        for basket, lines in baskets.items():
            for position, line in enumerate(lines, 1):
                copy.write_row([basket, position, *(_plain(line[name]) for name in names[2:])])
    with cursor.copy("COPY reprice_taken FROM STDIN") as copy:
        for row in taken.items():
            copy.write_row(row)
    session.execute(text("ANALYZE reprice_taken"))
    for statement in choosing.TAKEN:
        session.execute(statement)


def _plain(value: Any) -> Any:
    """JSON as its text."""
    return json.dumps(value) if isinstance(value, dict) else value


def ending(session: Session, asked: Asked) -> Sequence[Mapping[str, Any]]:
    """Price lists that end before quotes do that are priced by them."""
    return _rows_of(session, finding.ENDING, asked.parameters)


def _rows_of(session: Session, statement: TextClause, told: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    return [dict(row) for row in session.execute(statement, told).mappings()]


def amounts(session: Session, groups: Sequence[str]) -> NDArray[Any]:
    """The lines at cost in order, by the names of AMOUNT_ROW.

    `group` is a place in `groups`, 0 for others; `charged` and `old_charged` are what hours cost the customer
    by the new and the old terms, below 0 where no rate is charged for them.
    """
    with (
        _driver(session)
        .cursor()
        .copy(f"COPY ({lining.AMOUNTS}) TO STDOUT (FORMAT BINARY)", [list(groups)]) as copy
    ):
        read = b"".join(copy)
    return np.frombuffer(read, _binary(AMOUNT_ROW), offset=HEADER, count=_rows(read, AMOUNT_ROW))


def write(
    session: Session,
    asked: Asked,
    totals: Iterable[Sequence[Any]],
    numbers: NDArray[Any],
    positions: NDArray[Any],
    prices: NDArray[Any],
) -> None:
    """Store what changed: `totals` by the names of TOTALS, and the price of each line."""
    cursor = _driver(session).cursor()
    with cursor.copy(f"COPY reprice_totals ({', '.join(TOTALS)}) FROM STDIN") as copy:
        for row in totals:
            copy.write_row(row)
    with cursor.copy("COPY reprice_line_prices FROM STDIN (FORMAT BINARY)") as copy:
        copy.write(_as_binary(PRICE_ROW, n=numbers, position=positions, price=prices))
    session.execute(text(tables.COUNTED))
    told = asked.parameters
    if asked.run.mode == "revise":
        for statement in (writing.REVISIONS, writing.NEW_LINES, writing.EVENTS):
            session.execute(statement, told)
    session.execute(writing.CHANGES, told)


def write_others(session: Session, asked: Asked) -> None:
    """Put conflicts and what cannot be repriced on record."""
    session.execute(writing.OTHERS, asked.parameters)


def finish(session: Session, asked: Asked, counts: Mapping[str, int]) -> Repricing:
    """Note the part as done, last of all since the run's row is locked until the commit; the run as it is then."""
    part, run = asked.part, asked.run
    key = (RepricingPart.org_id == run.org_id, RepricingPart.repricing_id == run.id)
    session.execute(
        update(RepricingPart).where(*key, RepricingPart.number == part.number).values(done_at=func.now())
    )
    grown = {name: getattr(Repricing, name) + counts.get(name, 0) for name in COUNTS}
    return session.scalars(
        update(Repricing)
        .where(Repricing.org_id == run.org_id, Repricing.id == run.id)
        .values(parts_done=Repricing.parts_done + 1, **grown)
        .returning(Repricing)
        .execution_options(populate_existing=True)
    ).one()


def undone(session: Session, run: Repricing) -> Sequence[int]:
    """The numbers of the parts still to do."""
    query = select(RepricingPart.number).where(
        RepricingPart.org_id == run.org_id,
        RepricingPart.repricing_id == run.id,
        RepricingPart.done_at.is_(None),
    )
    return session.scalars(query.order_by(RepricingPart.number)).all()


def _driver(session: Session) -> Any:
    return session.connection().connection.driver_connection


def _binary(row: Sequence[tuple[str, str]]) -> np.dtype[Any]:
    """A row of a binary COPY without nulls: the number of columns, then each with its length before it."""
    columns = [pair for name, kind in row for pair in ((f"{name}_bytes", ">i4"), (name, kind))]
    return np.dtype([("columns", ">i2"), *columns])


def _rows(read: bytes, row: Sequence[tuple[str, str]]) -> int:
    return (len(read) - HEADER - TRAILER) // _binary(row).itemsize


def _as_binary(row: Sequence[tuple[str, str]], **values: NDArray[Any]) -> bytes:
    rows = np.zeros(len(values[row[0][0]]), _binary(row))
    rows["columns"] = len(row)
    for name, kind in row:
        rows[f"{name}_bytes"] = np.dtype(kind).itemsize
        rows[name] = values[name]
    return b"PGCOPY\n\xff\r\n\0" + bytes(8) + rows.tobytes() + b"\xff\xff"
