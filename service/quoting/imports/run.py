"""Import a file into a price list, in the caller's transaction, so that it holds whole or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any, BinaryIO
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import catalogue, price_lists
from service.quoting.imports.cell_words import foreign
from service.quoting.imports.columns import PRICES
from service.quoting.imports.errors import FileRefused
from service.quoting.imports.products import add_unknown
from service.quoting.imports.report import SAMPLES, Report
from service.quoting.imports.rows import Percents, Rejected, RowReader, Unfit, shown
from service.quoting.imports.source import Options, Source, open_source
from service.store import price_changes, rows
from service.store import price_imports as store
from service.store.models import PriceList

REASONS: Mapping[str, tuple[str, str]] = {
    "ambiguous": ("code", "several products have this code"),
    "unknown": ("code", "no such product"),
    "other_article": ("supplier_code", "the supplier's code for another product, {article_name}"),
    "article_twice": ("supplier_code", "the code of another product in row {article_row}"),
    "other_role": ("role", "the product has another role, {known_role}"),
    "other_unit": ("unit", "the product is counted in {known_unit}; nothing is converted"),
    "no_pack_size": ("pack_size", "no pack size, and the product states none above 0"),
    "duplicate": ("min_packs", "the same product, pack and number of packs as row {first_row}"),
    "no_area": ("m2_per_pack", "priced per m2, and what a pack covers is not known"),
    "too_dear": ("price", "the price of a pack is out of range"),
    "headless": ("min_packs", "no price of this pack from one on"),
    "dearer_break": ("price", "a pack costs more than where fewer are bought"),
}
"""Column and words of what is found wrong with a row beside the others."""
NAMED_BY = ("code", "name", "supplier_code")
UNMADE = ", and it cannot be made: role and unit of the role are wanted, and a tile's measures beforehand"


@dataclass(slots=True)
class _Reading:
    """What comes up while the rows go by."""

    rows: int = 0
    rejected: int = 0
    shown: list[Rejected] = field(default_factory=list)

    def reject(self, rejected: Rejected) -> None:
        self.rejected += 1
        if len(self.shown) < SAMPLES:
            self.shown.append(rejected)


def import_prices(
    session: Session,
    list_id: UUID,
    file: BinaryIO,
    options: Options,
    advance: Callable[[int], None] | None = None,
    expected: catalogue.Versions = None,
) -> Report:
    """Write a file's prices into a draft in place of those it had, unless they are the same; tell all.

    A dry run does all of it and takes it back. FileRefused where the file is no price table; Conflict where
    the list is no draft and the file would change it; Stale where it is at no version `expected`.
    """
    price_list = catalogue.get(session, price_lists.PRICE_LISTS, list_id)
    session.refresh(price_list, with_for_update=True)
    catalogue.at_version(session, price_lists.PRICE_LISTS, list_id, expected)
    source = open_source(file, options, advance)
    undo = session.begin_nested()
    reading = _take_in(session, source, price_list, options)
    unchanged = reading.rows > reading.rejected and not store.differs(session, list_id)
    price_list = _write(session, price_list, reading.rejected, unchanged)
    report = _report(session, price_list, source, reading, unchanged, options)
    if options.dry_run:
        undo.rollback()
        return report
    undo.commit()
    return _live(session, price_list, report) if options.activate else report


def _take_in(session: Session, source: Source, price_list: PriceList, options: Options) -> _Reading:
    """The rows staged, matched and checked, with those that are left out."""
    reading = _Reading()
    store.stage(session, _staged(source, _reader(session, source, price_list), reading))
    store.know_articles(session, price_list.supplier_id)
    if options.create_products:
        add_unknown(session)
    store.check(session)
    more, first = store.faults(session, SAMPLES)
    reading.rejected += more
    found = (_fault(row, source, options) for row in first)
    reading.shown = sorted((*reading.shown, *found), key=lambda rejected: rejected.row)[:SAMPLES]
    return reading


def _reader(session: Session, source: Source, price_list: PriceList) -> RowReader:
    supplier = catalogue.get(session, catalogue.SUPPLIERS, price_list.supplier_id)
    groups = {group: Decimal(percent) for group, percent in price_list.discounts.items()}
    percents = Percents(groups, price_list.list_percent)
    for column in source.header.columns:
        if column.field in PRICES and foreign(column.heading, supplier.currency):
            why = f"{column.heading!r} is in another currency than the supplier's, {supplier.currency}."
            raise FileRefused(why, "map")
    return RowReader(source.header, source.format.decimal, supplier.currency, percents, source.doubtful)


def _staged(source: Source, reader: RowReader, reading: _Reading) -> Iterator[store.Staged]:
    """The rows that can be read; the others are noted."""
    for number, cells in source.rows:
        reading.rows += 1
        try:
            yield reader.read(number, cells)
        except Unfit as unfit:
            column = source.header.heading_of(unfit.field)
            reading.reject(Rejected(number, column, unfit.value, str(unfit)))


def _fault(row: Mapping[str, Any], source: Source, options: Options) -> Rejected:
    field, words = REASONS[row["fault"]]
    if row["fault"] == "unknown":
        field = next((name for name in NAMED_BY if row[name] is not None), "code")
        words += UNMADE if options.create_products else ""
    reason = words.format_map(row)
    return Rejected(row["row_number"], source.header.heading_of(field), shown(row.get(field)), reason)


def _write(session: Session, price_list: PriceList, rejected: int, unchanged: bool) -> PriceList:
    if unchanged and (price_list.state != "draft" or price_list.rejected_rows == rejected):
        return price_list
    price_lists.draft(session, price_list.id)
    with catalogue.clashes(price_lists.PRICE_LISTS.word):
        store.apply(session, price_list.id)
        changed = rows.change(session, PriceList, price_list.id, None, rejected_rows=rejected)
    return catalogue.fresh(changed)


def _report(
    session: Session,
    price_list: PriceList,
    source: Source,
    reading: _Reading,
    unchanged: bool,
    options: Options,
) -> Report:
    found = price_changes.changes(session, price_list, SAMPLES)
    counts = {**found.counts, "accepted": reading.rows - reading.rejected, "rejected": reading.rejected}
    unsaid = {
        "accept_rejected": reading.rejected > 0 and not options.accept_rejected,
        "confirm_jumps": found.counts["jumps"] > 0 and not options.confirm_jumps,
    }
    return Report(
        price_list_id=price_list.id,
        dry_run=options.dry_run,
        unchanged=unchanged,
        activated=price_list.state == "active",
        missing=tuple(name for name, lacks in unsaid.items() if lacks and price_list.state == "draft"),
        format=source.format,
        columns=source.header.columns,
        rows=reading.rows,
        counts=counts,
        rejected=reading.shown,
        new=found.samples["new"],
        changed=found.samples["changed"],
        gone=found.samples["gone"],
        jumps=found.samples["jumps"],
        jump_limit_percent=found.limit_percent,
    )


def _live(session: Session, price_list: PriceList, report: Report) -> Report:
    """Put the list in force where nothing is missing for it."""
    if report.missing or price_list.state != "draft":
        return report
    said = price_lists.Consent(accept_rejected=True, confirm_jumps=True)
    price_lists.activate(session, price_list.id, None, said)
    return replace(report, activated=True)
