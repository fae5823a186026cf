"""Quotes keep their products and suppliers: each figure is that of the way by which one quote is priced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import Engine, select, text, update
from sqlalchemy.orm import Session

from service.demo.seed import ORGANISATION
from service.pricing.commercial import DayWork
from service.pricing.lines import delivery_lines
from service.pricing.market import Purchase
from service.pricing.model import Line, Offer, PriceBook, Terms
from service.pricing.money import to_minor
from service.pricing.packs import Mix, in_minor, pack_price
from service.pricing.totals import total
from service.quoting import price_lists
from service.quoting.basis import Hours
from service.quoting.exchange import add_rate
from service.quoting.quotes import Actor, StoredQuote, get_quote, make_quote
from service.quoting.quotes.answer import Acceptance, accept
from service.quoting.quotes.revise import revise
from service.quoting.repricing import steer
from service.quoting.repricing.begin import begin
from service.quoting.repricing.part import reprice_part
from service.quoting.snapshot import from_json
from service.store import quotes as store
from service.store import rows
from service.store.models import LabourTableRow, PriceItem, PriceList, ProductRow, Supplier, TermsRow
from service.store.prices import load_price_book
from service.store.session import transaction
from service.store.terms import terms_body, terms_of
from tests.repricing import office

DAY = date(2026, 3, 2)
ROOMS = [slice(None), slice(0, 1), slice(1, 2), slice(2, 3), slice(0, 2)]


def expected(session: Session, old: StoredQuote, new: StoredQuote) -> tuple[tuple[Line, ...], Any]:
    """The old lines at the prices of today's book, line by line by pricing's own functions."""
    assert old.priced is not None
    revision = store.find_revision(session, new.id, new.revision)
    assert revision is not None
    terms = from_json(revision.basis["terms"], Terms)
    roles = set(session.scalars(select(ProductRow.role)))
    book = load_price_book(session, roles, DAY, old.currency)
    bought = [line for line in old.priced.lines if line.packs is not None]
    material = [_at_book(line, book, terms) if line in bought else line for line in _kind(old, "material")]
    purchases = [(_purchase(line, book, terms), ()) for line in bought]
    at_cost = [*material, *delivery_lines(purchases, book, terms.rounding), *_kind(old, "labour")]
    return total(at_cost, terms)


def _kind(quote: StoredQuote, kind: str) -> list[Line]:
    return [line for line in quote.priced.lines if line.kind == kind] if quote.priced else []


def _offer(line: Line, book: PriceBook) -> Offer:
    return next(
        o
        for o in book.offers
        if (o.supplier, o.product, o.pack_size) == (line.supplier, line.product, line.pack_size)
    )


def _at_book(line: Line, book: PriceBook, terms: Terms) -> Line:
    offer = _offer(line, book)
    cost = pack_price(offer, line.packs or 0)
    amount = to_minor((line.packs or 0) * cost, terms.rounding)
    return replace(line, cost=cost, amount=amount, price=amount, price_list=offer.price_list)


def _purchase(line: Line, book: PriceBook, terms: Terms) -> Purchase:
    offer = _offer(line, book)
    products = {one.id: one for one in book.products}
    suppliers = {one.id: one for one in book.suppliers}
    goods = in_minor((line.packs or 0) * pack_price(offer, line.packs or 0), terms.rounding)
    mix = Mix((line.packs or 0,), Decimal(0))
    return Purchase(products[line.product or ""], suppliers[line.supplier or ""], (offer,), mix, goods, goods)


def figures(lines: Sequence[Line]) -> list[tuple[Any, ...]]:
    names = (
        "kind",
        "role",
        "group",
        "supplier",
        "product",
        "packs",
        "pack_size",
        "quantity",
        "cost",
        "price",
        "amount",
    )
    return [tuple(getattr(line, name) for name in names) for line in lines]


def check(engine: Engine, run_id: Any, ids: Sequence[Any]) -> None:
    """Every figure by the other way, and causes that add up to the whole."""
    with transaction(engine, ORGANISATION) as session:
        changes = {row.quote_id: row for row in steer.changes(session, run_id, 200, None, None)}
        for quote_id in ids:
            change = changes[quote_id]
            old = get_quote(session, quote_id, change.revision)
            new = get_quote(session, quote_id, change.new_revision)
            assert new.priced is not None
            assert new.priced.totals is not None
            lines, totals = expected(session, old, new)
            assert figures(new.priced.lines) == figures(lines)
            assert new.priced.totals == totals
            assert (change.new_net, change.new_gross) == (totals.net, totals.gross)
            moved = sum((Decimal(cause["amount"]) for cause in change.causes), Decimal(0))
            assert moved == totals.gross - change.old_gross != 0
            assert new.takeoff == old.takeoff
            assert [line.note for line in new.priced.lines] == [line.note for line in lines]
            assert new.state == "draft"


def other_charges(engine: Engine) -> None:
    """Freight by weight, surcharges and a limit for free delivery that some orders reach."""
    with transaction(engine, ORGANISATION) as session:
        session.execute(
            update(Supplier).values(
                freight_per_kg=Decimal("0.035"), carry_in=Decimal(12), free_delivery_over=Decimal(900)
            )
        )
        session.execute(update(ProductRow).values(weight_kg=Decimal("1.25")))


def test_every_figure_is_that_of_one_quote_priced_alone(live_engine: Engine, batch: Engine) -> None:
    ids = office.quotes(live_engine, ROOMS)
    offered = office.quotes(live_engine, ROOMS[:2], issued=True)
    office.dearer(live_engine, "7.77")
    other_charges(live_engine)
    run_id = office.run(batch)
    check(live_engine, run_id, [*ids, *offered])
    with transaction(live_engine, ORGANISATION) as session:
        assert [get_quote(session, id_).revision for id_ in offered] == [1, 1]  # what customers hold stands
        assert [get_quote(session, id_).revision for id_ in ids] == [2] * len(ids)
        run = office.found(session, run_id)
        assert (run.state, run.selected, run.visited, run.changed, run.revised) == ("done", 7, 7, 7, 7)


def sold_from_abroad(engine: Engine) -> None:
    """The first supplier's goods at the same figures from another one in another currency, not from him."""
    terms = ("delivery_charge", "free_delivery_over", "minimum_order", "lead_time_days")
    with transaction(engine, ORGANISATION) as session:
        home = session.scalars(select(Supplier).order_by(Supplier.name)).first()
        assert home is not None
        same = {name: getattr(home, name) for name in terms}
        abroad = rows.add(session, Supplier, name="Invented Abroad", currency="EUR", **same)
        sold = select(PriceItem).join(PriceList, PriceList.id == PriceItem.price_list_id)
        items = session.scalars(sold.where(PriceList.supplier_id == home.id)).all()
        wanted = ("product_id", "pack_size", "min_packs", "price", "split")
        prices = [{name: getattr(item, name) for name in wanted} for item in items]
        head = {"supplier_id": abroad.id, "name": "Prices", "valid_from": DAY}
        price_list = price_lists.add(session, head)
        price_lists.replace_items(session, price_list.id, None, prices)
        price_lists.activate(session, price_list.id, None)
        home.archived_at = office.NOW


def test_other_terms_taxes_and_rates_are_causes_of_their_own(live_engine: Engine, batch: Engine) -> None:
    sold_from_abroad(live_engine)
    ids = office.quotes(live_engine, ROOMS[:3])
    office.dearer(live_engine, "3")
    with transaction(live_engine, ORGANISATION) as session:
        add_rate(
            session,
            {"from_currency": "EUR", "to_currency": "USD", "rate": Decimal("1.21"), "valid_from": DAY},
        )
        row = session.scalars(select(TermsRow)).one()
        terms = terms_of(row)
        taxes = tuple(replace(tax, percent=tax.percent + 2) for tax in terms.taxes)
        row.body = terms_body(replace(terms, discount_percent=Decimal("2.5"), taxes=taxes))
    run_id = office.run(batch)
    check(live_engine, run_id, ids)
    with transaction(live_engine, ORGANISATION) as session:
        kinds = {
            cause["kind"] for row in steer.changes(session, run_id, 9, None, None) for cause in row.causes
        }
    assert kinds >= {"price", "exchange_rate", "on_cost", "terms", "tax"}


def test_a_preview_stores_no_quote_and_tells_the_same_figures(live_engine: Engine, batch: Engine) -> None:
    office.quotes(live_engine, ROOMS[:2])
    office.dearer(live_engine)
    preview, revised = office.run(batch, "preview"), office.run(batch)
    with transaction(live_engine, ORGANISATION) as session:
        told, written = (
            [(row.quote_id, row.new_gross, row.causes) for row in steer.changes(session, run, 9, None, None)]
            for run in (preview, revised)
        )
        assert told == written
        assert all(row.new_revision is None for row in steer.changes(session, preview, 9, None, None))
    again = office.run(batch)
    with transaction(live_engine, ORGANISATION) as session:
        run = office.found(session, again)
        assert (run.selected, run.visited, run.changed) == (2, 0, 0)  # nothing is older than its prices now


def test_only_quotes_that_hold_a_changed_product_are_visited(live_engine: Engine, batch: Engine) -> None:
    ids = office.quotes(live_engine, ROOMS[1:4])
    with transaction(live_engine, ORGANISATION) as session:
        holding = {
            id_: {line.product for line in get_quote(session, id_).priced.lines if line.product}  # type: ignore[union-attr]
            for id_ in ids
        }
    only = next(iter(holding[ids[0]] - holding[ids[1]] - holding[ids[2]]))
    office.dearer(live_engine, products=[UUID(only)])
    run_id = office.run(batch)
    with transaction(live_engine, ORGANISATION) as session:
        run = office.found(session, run_id)
        assert (run.selected, run.visited, run.changed) == (3, 1, 1)
        lists = list(
            session.scalars(
                select(PriceList.id).where(PriceList.kind == "promotion", PriceList.state == "active")
            )
        )
    narrow = office.run(batch, "preview", price_list_id=lists[0], price_date=DAY)
    with transaction(live_engine, ORGANISATION) as session:
        assert office.found(session, narrow).visited == 0


def test_limits_keep_small_changes_out(live_engine: Engine, batch: Engine) -> None:
    office.quotes(live_engine, ROOMS[:2])
    office.dearer(live_engine, "10")
    by_amount = office.run(batch, "preview", limit_amount=Decimal(200))
    by_percent = office.run(batch, "preview", limit_percent=Decimal(50))
    with transaction(live_engine, ORGANISATION) as session:
        runs = [office.found(session, run) for run in (by_amount, by_percent)]
        assert [(run.changed, run.within_limits) for run in runs] == [(1, 1), (0, 2)]


def test_accepted_work_is_told_of_and_never_touched(live_engine: Engine, batch: Engine) -> None:
    (id_,) = office.quotes(live_engine, ROOMS[1:2], issued=True)
    with transaction(live_engine, ORGANISATION) as session:
        accept(session, id_, None, Acceptance(1, "Invented customer", "Order 1"), Actor(office.NOW))
    office.dearer(live_engine, "40")
    run_id = office.run(batch, margin_floor_percent=Decimal(60))
    with transaction(live_engine, ORGANISATION) as session:
        run = office.found(session, run_id)
        assert run.summary is not None
        assert (run.changed, run.revised, run.summary["accepted_lost"], run.summary["under_floor"]) == (
            1,
            0,
            1,
            1,
        )
        (change,) = steer.changes(session, run_id, 9, None, None)
        assert Decimal(run.summary["exposure"]) == change.new_cost - change.old_cost > 0
        assert get_quote(session, id_).current_revision == 1


def test_what_a_person_changed_meanwhile_is_a_conflict(live_engine: Engine, batch: Engine) -> None:
    ids = office.quotes(live_engine, ROOMS[:3])
    office.dearer(live_engine)
    with transaction(live_engine, ORGANISATION) as session:
        run_id = steer.order(session, steer.Order("revise", price_date=DAY), Actor(office.NOW)).id
    begin(batch, ORGANISATION, run_id, office.NOW)
    with transaction(live_engine, ORGANISATION) as session:
        revise(session, ids[1], None, office.request(session, ROOMS[1], valid_days=9), Actor(office.NOW))
    office.work_off(batch, run_id)
    with transaction(live_engine, ORGANISATION) as session:
        outcomes = {row.quote_id: row.outcome for row in steer.changes(session, run_id, 9, None, None)}
        assert outcomes == {ids[0]: "changed", ids[1]: "conflict", ids[2]: "changed"}
        assert get_quote(session, ids[1]).body["valid_days"] == 9
        run = office.found(session, run_id)
        assert (run.state, run.revised, run.conflicts) == ("done", 2, 1)


def test_a_product_no_longer_sold_so_is_told(live_engine: Engine, batch: Engine) -> None:
    (id_,) = office.quotes(live_engine, ROOMS[1:2])
    with transaction(live_engine, ORGANISATION) as session:
        product = next(line.product for line in _kind(get_quote(session, id_), "material") if line.packs)
        session.execute(text("UPDATE products SET archived_at = now() WHERE id = :id"), {"id": product})
    run_id = office.run(batch)
    with transaction(live_engine, ORGANISATION) as session:
        (change,) = steer.changes(session, run_id, 9, None, None)
        assert (change.outcome, change.new_gross) == ("unpriceable", None)
        assert get_quote(session, id_).current_revision == 1


def _with_terms(session: Session, **changed: Any) -> None:
    row = session.scalars(select(TermsRow).where(TermsRow.is_default)).one()
    row.body = terms_body(replace(terms_of(row), **changed))
    session.flush()


def test_hours_at_a_rate_cost_what_todays_rates_make_of_them(live_engine: Engine, batch: Engine) -> None:
    """A charge of the terms, one of the crew's table, and day work; each rate moves before the run."""
    with transaction(live_engine, ORGANISATION) as session:
        asked = office.request(session, ROOMS[1])
        _with_terms(session, day_work=(DayWork("Tiler", Decimal(68)),))
        extra = replace(asked, day_work=(Hours("mending screed", "Tiler", Decimal("2.25")),))
        session.execute(update(LabourTableRow).values(hourly_charge=Decimal("71.5")))
        by_crew = make_quote(session, extra, office.NOW).id
        _with_terms(session, hourly_charge=Decimal(95))
        by_terms, later_by_crew = (make_quote(session, extra, office.NOW).id for _ in range(2))
    office.dearer(live_engine)
    with transaction(live_engine, ORGANISATION) as session:
        _with_terms(session, hourly_charge=None, day_work=(DayWork("Tiler", Decimal("70.13")),))
    run_id = office.run(batch, "preview")
    with transaction(live_engine, ORGANISATION) as session:
        _with_terms(session, hourly_charge=Decimal("99.99"))
    check(live_engine, office.run(batch), [by_crew, by_terms, later_by_crew])
    with transaction(live_engine, ORGANISATION) as session:
        notes = [line.note for line in _kind(get_quote(session, by_terms, 2), "labour")]
        assert set(notes) == {"Charged at 99.99 an hour.", "Tiler"}
        told = {row.quote_id: row.new_net for row in steer.changes(session, run_id, 9, None, None)}
        assert told[by_terms] == told[by_crew]  # terms without a charge leave the crew's


def test_day_work_at_a_rate_that_is_gone_is_told(live_engine: Engine, batch: Engine) -> None:
    with transaction(live_engine, ORGANISATION) as session:
        _with_terms(session, day_work=(DayWork("Tiler", Decimal(68)),))
        asked = office.request(session, ROOMS[1])
        make_quote(session, replace(asked, day_work=(Hours("x", "Tiler", Decimal(2)),)), office.NOW)
        _with_terms(session, day_work=())
    run_id = office.run(batch)
    with transaction(live_engine, ORGANISATION) as session:
        (change,) = steer.changes(session, run_id, 9, None, None)
        assert (change.outcome, change.note) == (
            "unpriceable",
            "the terms no longer have the rate of its day work",
        )


def test_a_part_done_again_does_nothing(live_engine: Engine, batch: Engine) -> None:
    office.quotes(live_engine, ROOMS[:2])
    office.dearer(live_engine)
    run_id = office.run(batch, part_size=1)
    with transaction(live_engine, ORGANISATION) as session:
        before = [row.new_revision for row in steer.changes(session, run_id, 9, None, None)]
    assert [reprice_part(batch, ORGANISATION, run_id, number, office.NOW) for number in (0, 1, 7)] == [
        False
    ] * 3
    with transaction(live_engine, ORGANISATION) as session:
        run = office.found(session, run_id)
        assert (run.parts, run.parts_done, run.revised) == (2, 2, 2)
        assert [row.new_revision for row in steer.changes(session, run_id, 9, None, None)] == before == [2, 2]


@pytest.mark.parametrize("customers", [True, False])
def test_only_what_is_selected_is_repriced(customers: bool, live_engine: Engine, batch: Engine) -> None:
    mine, other = (office.quotes(live_engine, ROOMS[1:2], issued=issued)[0] for issued in (False, True))
    office.dearer(live_engine)
    with transaction(live_engine, ORGANISATION) as session:
        customer = str(get_quote(session, mine).customer_id)
    chosen = {"customers": [customer]} if customers else {"states": ["draft"]}
    run_id = office.run(batch, selection=chosen)
    with transaction(live_engine, ORGANISATION) as session:
        assert [row.quote_id for row in steer.changes(session, run_id, 9, None, None)] == [mine]
        assert get_quote(session, other).current_revision == 1
