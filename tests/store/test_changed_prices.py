"""Which open quotes a new price list marks."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import func, select

from service.store import changed_prices, price_lists, quotes, rows
from service.store.models import PriceItem, PriceList, Quote, Supplier
from service.store.session import OfficeSession
from tests.factories import (
    AgreementFactory,
    PriceItemFactory,
    PriceListFactory,
    QuoteFactory,
    QuoteLineFactory,
)
from tests.store.test_quotes import NOW, SNAPSHOT


def quote_holding(
    session: OfficeSession, item: PriceItem, supplier_id: Any, state: str = "issued", **line: Any
) -> Quote:
    quote: Quote = QuoteFactory(session=session)
    QuoteLineFactory(
        session=session,
        of_revision__quote=quote,
        of_revision__state=state,
        supplier_id=supplier_id,
        product_id=item.product_id,
        price_list_id=item.price_list_id,
        pack_size=item.pack_size,
        packs=6,
        **{"cost": item.price, **line},
    )
    return quote


def follow_up(session: OfficeSession, item: PriceItem, *prices: tuple[int, str]) -> PriceList:
    """A later list of the same supplier with other prices for the same pack."""
    old = rows.find(session, PriceList, item.price_list_id)
    assert old is not None
    new: PriceList = PriceListFactory(
        session=session, supplier_id=old.supplier_id, valid_from=date(2026, 4, 1)
    )
    for min_packs, price in prices:
        PriceItemFactory(
            session=session,
            price_list=new,
            product_id=item.product_id,
            min_packs=min_packs,
            price=Decimal(price),
        )
    changed = price_lists.activate(session, new.id, 1)
    assert changed is not None
    return changed


@pytest.mark.parametrize(
    ("prices", "marked"),
    [
        ([(1, "24.5")], 0),
        ([(1, "25")], 1),
        ([(1, "24.5"), (6, "20")], 1),
        ([(1, "99"), (6, "24.5")], 0),
        ([(1, "24.5"), (7, "20")], 0),
    ],
)
def test_open_quotes_with_another_price_are_marked(
    prices: list[tuple[int, str]], marked: int, session: OfficeSession
) -> None:
    item = PriceItemFactory(session=session)
    old = rows.find(session, PriceList, item.price_list_id)
    assert old is not None
    quote = quote_holding(session, item, old.supplier_id)
    closed = quote_holding(session, item, old.supplier_id, state="accepted")
    elsewhere = quote_holding(session, item, PriceListFactory(session=session).supplier_id)
    new = follow_up(session, item, *prices)
    assert changed_prices.note_price_change(session, new.id) == marked
    assert changed_prices.note_price_change(session, new.id) == 0
    for row in (quote, closed, elsewhere):
        session.refresh(row)
    assert quote.prices_changed_at == (new.activated_at if marked else None)
    assert closed.prices_changed_at is None
    assert elsewhere.prices_changed_at is None


def test_a_superseded_revisions_lines_do_not_count(session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    old = rows.find(session, PriceList, item.price_list_id)
    assert old is not None
    quote = quote_holding(session, item, old.supplier_id, state="draft")
    quotes.add_revision(session, quote, SNAPSHOT, NOW)
    assert changed_prices.note_price_change(session, follow_up(session, item, (1, "1")).id) == 0
    assert session.scalar(select(func.count()).select_from(Quote)) == 1


def test_what_a_new_regular_list_no_longer_sells_is_a_change(session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    supplier = supplier_of(session, item)
    quote_holding(session, item, supplier.id)
    for kind, marked in (("promotion", 0), ("regular", 1)):
        new = PriceListFactory(session=session, supplier=supplier, kind=kind, valid_from=date(2026, 4, 1))
        PriceItemFactory(session=session, price_list=new, price_list_id=new.id)
        assert price_lists.activate(session, new.id, 1)
        assert changed_prices.note_price_change(session, new.id) == marked


def supplier_of(session: OfficeSession, item: PriceItem) -> Supplier:
    old = rows.find(session, PriceList, item.price_list_id)
    assert old is not None
    supplier = rows.find(session, Supplier, old.supplier_id)
    assert supplier is not None
    return supplier


@pytest.mark.parametrize(("cost", "marked"), [("23.275", 0), ("24.5", 1)])
def test_what_an_agreement_leaves_is_compared(cost: str, marked: int, session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    supplier = supplier_of(session, item)
    AgreementFactory(session=session, supplier_id=supplier.id, product_id=item.product_id, role=None)
    quote_holding(session, item, supplier.id, cost=Decimal(cost))
    assert changed_prices.note_price_change(session, follow_up(session, item, (1, "24.5")).id) == marked


@pytest.mark.parametrize(("cost", "marked"), [("22.0966", 0), ("24.5", 1)])
def test_prices_of_another_currency_are_compared_at_the_quotes_rate(
    cost: str, marked: int, session: OfficeSession
) -> None:
    item = PriceItemFactory(session=session)
    rate = {"id": "r", "currency": "EUR", "rate": "0.9019", "valid_from": "2026-01-01"}
    quote_holding(session, item, supplier_of(session, item).id, cost=Decimal(cost), exchange=rate)
    assert changed_prices.note_price_change(session, follow_up(session, item, (1, "24.5")).id) == marked


def test_an_offer_for_one_job_stays_what_it_was(session: OfficeSession) -> None:
    offer = PriceListFactory(session=session, kind="job_offer", reference="J-1", valid_until=date(2099, 1, 1))
    item = PriceItemFactory(session=session, price_list=offer, price_list_id=offer.id)
    quote_holding(session, item, offer.supplier_id)
    assert changed_prices.note_price_change(session, follow_up(session, item, (1, "30")).id) == 0


def test_a_list_under_one_that_goes_first_changes_nothing(session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    promotion = PriceListFactory(
        session=session, supplier_id=supplier_of(session, item).id, kind="promotion", priority=5
    )
    same = PriceItemFactory(session=session, price_list=promotion, product_id=item.product_id)
    assert same.price == item.price
    assert price_lists.activate(session, promotion.id, 1)
    quote_holding(session, item, promotion.supplier_id)
    assert changed_prices.note_price_change(session, follow_up(session, item, (1, "30")).id) == 0
