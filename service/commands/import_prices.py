"""`import-prices`: a supplier's price file into a price list, from the command line."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from datetime import date
from typing import NamedTuple
from uuid import UUID

from sqlalchemy import Engine, select
from sqlalchemy.orm import Session
from tqdm import tqdm

from service.commands.parsers import DELIMITERS
from service.quoting import price_lists
from service.quoting.errors import QuotingError
from service.quoting.imports.columns import fields
from service.quoting.imports.errors import FileRefused
from service.quoting.imports.report import Report
from service.quoting.imports.run import import_prices
from service.quoting.imports.source import Options
from service.settings import Settings, SettingsError
from service.store import keys
from service.store.engine import make_engine
from service.store.models import PriceList, Supplier
from service.store.session import bind_key, org_of, transaction

KEY = "OFFICE_KEY"
TOLD = 10


def run(options: argparse.Namespace, settings: Settings) -> int:
    """0 when the file was taken (and the list is live, where asked), 1 when not, 2 for wrong options."""
    engine = make_engine(settings.database_url or "")
    try:
        report = _imported(options, settings, engine)
    except (FileRefused, QuotingError, OSError) as refused:
        print(f"import-prices: {refused}", file=sys.stderr)
        return 1
    finally:
        engine.dispose()
    print("\n".join(lines(report)))
    return 1 if options.activate and not (report.activated or options.dry_run) else 0


def _imported(options: argparse.Namespace, settings: Settings, engine: Engine) -> Report:
    caller = caller_of(options, settings, engine)
    size = options.file.stat().st_size
    with (
        options.file.open("rb") as file,
        tqdm(total=size, unit="B", unit_scale=True, desc="read", disable=None) as bar,
        transaction(engine, caller.org_id) as session,
    ):
        caller.sign(session)
        price_list = _price_list(session, options)
        report = import_prices(
            session, price_list.id, file, _options(options), lambda _: bar.update(max(0, file.tell() - bar.n))
        )
        if options.dry_run:
            session.rollback()
        return report


def _options(said: argparse.Namespace) -> Options:
    pairs = [pair.rpartition("=") for pair in said.map]
    for heading, _, field in pairs:
        if not heading or field not in fields():
            raise SettingsError(f"--map wants HEADING=FIELD with one of {', '.join(fields())}")
    return Options(
        encoding=said.encoding,
        delimiter=DELIMITERS.get(said.delimiter),
        decimal=said.decimal,
        columns={heading: field for heading, _, field in pairs},
        dry_run=said.dry_run,
        create_products=said.create_products,
        activate=said.activate,
        accept_rejected=said.accept_rejected,
        confirm_jumps=said.confirm_jumps,
    )


class Caller(NamedTuple):
    """Whose the command's work is, and under which key it is put on record; the demo has none."""

    org_id: UUID
    key_id: UUID | None = None

    def sign(self, session: Session) -> None:
        if self.key_id is not None:
            bind_key(session, self.key_id)


def caller_of(
    options: argparse.Namespace, settings: Settings, engine: Engine, scope: str = "prices"
) -> Caller:
    """Whose key is given: by option, environment, else the demo's office in a database of its own."""
    key = options.key or os.environ.get(KEY)
    if key is None and options.demo:
        from service.demo.seed import ORGANISATION, seed

        seed(settings)
        return Caller(ORGANISATION)
    if key is None:
        raise SettingsError(f"say whose they are: --key or {KEY} with an API key of the organisation")
    with transaction(engine) as session:
        held = keys.key_in_force(session, key, settings.key_pepper)
        if held is None or not {scope, "admin"} & set(held.scopes):
            raise SettingsError(f"the key is unknown, over, or lacks the scope {scope}")
        return Caller(held.org_id, held.id)


def _price_list(session: Session, options: argparse.Namespace) -> PriceList:
    """The supplier's list of that name and day, or a new draft."""
    supplier = _supplier(session, options.supplier)
    name = options.list or options.file.stem
    day = options.valid_from or date.today()  # noqa: DTZ011 - the day of whoever runs the command
    where = (PriceList.org_id == org_of(session), PriceList.supplier_id == supplier.id)
    known = select(PriceList).where(*where, PriceList.name == name, PriceList.valid_from == day)
    found = session.scalars(known.order_by(PriceList.created_at.desc())).first()
    return found or price_lists.add(
        session, {"supplier_id": supplier.id, "name": name, "valid_from": day, "kind": "regular"}
    )


def _supplier(session: Session, said: str | None) -> Supplier:
    own = select(Supplier).where(Supplier.org_id == org_of(session), Supplier.archived_at.is_(None))
    suppliers = session.scalars(own.order_by(Supplier.name)).all()
    found = [row for row in suppliers if said is None or said in (row.name, str(row.id))]
    if len(found) != 1:
        listed = ", ".join(row.name for row in suppliers[:20]) or "none yet"
        raise SettingsError(f"--supplier wants one of the office's suppliers: {listed}")
    return found[0]


def lines(report: Report) -> Sequence[str]:
    """The report as text."""
    counts = report.counts
    taken = "; ".join(f"{c.heading!r} as {c.field}" for c in report.columns if c.field)
    passed = ", ".join(repr(c.heading) for c in report.columns if not c.field and c.heading)
    told = [
        f"{'Dry run: nothing is stored. ' if report.dry_run else ''}{report.rows} rows read.",
        f"Columns: {taken}{f'; passed over: {passed}' if passed else ''}.",
        f"{counts['accepted']} accepted, {counts['rejected']} rejected: {counts['new']} new,"
        f" {counts['changed']} changed, {counts['same']} the same, {counts['gone']} gone,"
        f" {counts['jumps']} over {report.jump_limit_percent.normalize():f} percent.",
    ]
    told += [f"  row {r.row}, {r.column}: {r.value!r}: {r.reason}" for r in report.rejected[:TOLD]]
    told += [
        f"  {row['name']}: {row['old'].normalize():f} -> {row['new'].normalize():f} ({row['percent']} %)"
        for row in report.changed[:TOLD]
    ]
    if report.unchanged:
        told.append("The list has these very prices already; nothing was changed.")
    if report.missing:
        wanted = ", ".join("--" + name.replace("_", "-") for name in report.missing)
        told.append(f"To go live it wants: {wanted}.")
    return [*told, f"Price list {report.price_list_id} is {'active' if report.activated else 'not live'}."]
