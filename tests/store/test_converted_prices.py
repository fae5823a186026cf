"""The price book of an office whose suppliers sell in other currencies."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from itertools import product as combinations
from random import Random

import pytest
from sqlalchemy import text

from service.pricing.model import PriceBook
from service.store.exchange_rates import in_force, rates_into
from service.store.models import ExchangeRate
from service.store.prices import load_price_book
from service.store.session import OfficeSession
from tests.factories import (
    ExchangeRateFactory,
    PriceItemFactory,
    PriceListFactory,
    ProductFactory,
    SupplierFactory,
)

DAY = date(2026, 3, 2)


@pytest.fixture
def book_of(session: OfficeSession) -> PriceBook:
    """A supplier at home, one in euro with a rate, one in pounds without."""
    ExchangeRateFactory(session=session, rate=Decimal("1.0825"))
    grout = ProductFactory(session=session)
    for name, currency in (("home", "USD"), ("euro", "EUR"), ("pound", "GBP")):
        supplier = SupplierFactory(session=session, name=name, currency=currency)
        price_list = PriceListFactory(session=session, supplier=supplier)
        PriceItemFactory(session=session, price_list=price_list, product=grout)
        price_list.state = "active"
    session.flush()
    return load_price_book(session, ["grout"], DAY, "USD")


def test_other_currencies_are_converted_or_left_out_and_told(book_of: PriceBook) -> None:
    names = {supplier.id: supplier.name for supplier in book_of.suppliers}
    found = {names[offer.supplier]: offer.breaks[0].price for offer in book_of.offers}
    assert found == {"home": Decimal("24.5"), "euro": Decimal("26.5213")}, "24.5 x 1.0825 = 26.52125"
    assert {s.name: s.delivery_charge for s in book_of.suppliers} == {
        "home": 45,
        "euro": Decimal("48.7125"),
    }
    assert [names[id_] for id_ in book_of.exchanges] == ["euro"]
    assert book_of.unconverted == ("GBP",)


def test_the_database_converts_alike(session: OfficeSession, book_of: PriceBook) -> None:
    """numeric x numeric is exact, and round() goes away from zero at a half."""
    asked = text("SELECT round(24.5 * 1.0825, 4), round_money(24.5 * 1.0825, 4, 'half_up')")
    abroad = [offer for offer in book_of.offers if offer.supplier in book_of.exchanges]
    assert set(session.execute(asked).one()) == {abroad[0].breaks[0].price}


def test_the_rate_in_force_against_a_plain_reading(session: OfficeSession) -> None:
    """Random rows: the latest day on or before, of several the one written last."""
    random = Random(11)
    rows: list[ExchangeRate] = [
        ExchangeRateFactory(
            session=session,
            from_currency=random.choice(["EUR", "GBP"]),
            to_currency=random.choice(["USD", "CHF"]),
            rate=Decimal(random.randint(1, 9999)) / 1000,
            valid_from=DAY + timedelta(days=random.randint(-4, 4)),
        )
        for _ in range(40)
    ]
    for offset in range(-6, 6):
        day = DAY + timedelta(days=offset)
        held = {(row.from_currency, row.to_currency): row.id for row in in_force(session, day)}
        for pair in combinations(["EUR", "GBP"], ["USD", "CHF"]):
            begun = [r for r in rows if (r.from_currency, r.to_currency) == pair and r.valid_from <= day]
            last = max(begun, key=lambda r: (r.valid_from, r.created_at, r.id), default=None)
            assert held.get(pair) == (last.id if last else None)
    assert {*rates_into(session, "USD", DAY).by_currency} <= {"EUR", "GBP"}


@pytest.mark.parametrize("statement", ["UPDATE exchange_rates SET rate = 1", "DELETE FROM tax_rules"])
def test_rows_are_only_ever_added(statement: str, session: OfficeSession) -> None:
    from sqlalchemy.exc import ProgrammingError

    with pytest.raises(ProgrammingError, match="permission denied"):
        session.execute(text(statement))
