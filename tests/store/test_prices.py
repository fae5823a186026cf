"""The price in force, against a plain reading of the rule in Python."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from itertools import groupby
from random import Random
from typing import Any

import pytest

from service.pricing.model import Offer, PriceBook, PriceBreak
from service.store.models import PriceItem, PriceList, ProductRow, Supplier
from service.store.prices import load_price_book, products_by_ids
from service.store.session import OfficeSession
from tests.factories import PriceItemFactory, PriceListFactory, ProductFactory, SupplierFactory

DAY = date(2026, 3, 1)
JOB_OFFER = {"kind": "job_offer", "reference": "Site 12", "valid_until": date(2026, 12, 31)}


def sell(
    session: OfficeSession, price_list: PriceList, product: ProductRow, *prices: str, pack: str = "10"
) -> None:
    """Put prices on a draft: the first from one pack on, each further one from five packs more."""
    for number, price in enumerate(prices):
        PriceItemFactory(
            session=session,
            price_list=price_list,
            product=product,
            pack_size=Decimal(pack),
            min_packs=max(1, number * 5),
            price=Decimal(price),
        )


def list_in_force(
    session: OfficeSession, supplier: Supplier, *items: tuple[ProductRow, str], **values: Any
) -> PriceList:
    price_list: PriceList = PriceListFactory(session=session, supplier=supplier, **values)
    for product, price in items:
        sell(session, price_list, product, price)
    price_list.state = "active"
    session.flush()
    return price_list


def book(session: OfficeSession, day: date = DAY, currency: str = "USD", **options: Any) -> PriceBook:
    return load_price_book(session, ["grout"], day, currency, **options)


def prices(found: PriceBook) -> list[Decimal]:
    return [offer.breaks[0].price for offer in found.offers]


@pytest.fixture
def supplier(session: OfficeSession) -> Supplier:
    return SupplierFactory(session=session)


@pytest.fixture
def product(session: OfficeSession) -> ProductRow:
    return ProductFactory(session=session)


def test_breaks_and_packs_of_one_list(
    session: OfficeSession, supplier: Supplier, product: ProductRow
) -> None:
    price_list = PriceListFactory(session=session, supplier=supplier)
    sell(session, price_list, product, "24.50", "22.00")
    sell(session, price_list, product, "60.00", pack="25")
    price_list.state = "active"
    session.flush()
    found = book(session)
    ids = (str(supplier.id), str(product.id))
    breaks = (PriceBreak(1, Decimal("24.50")), PriceBreak(5, Decimal("22.00")))
    assert found.offers == (
        Offer(*ids, Decimal(10), breaks, str(price_list.id)),
        Offer(*ids, Decimal(25), (PriceBreak(1, Decimal(60)),), str(price_list.id)),
    )
    assert [s.delivery_charge for s in found.suppliers] == [Decimal(45)]
    assert found.products[0].attributes == {"joint_min_mm": 2.0, "joint_max_mm": 12.0}


@pytest.mark.parametrize(
    ("day", "expected"),
    [
        ("2025-12-31", []),
        ("2026-01-01", [10]),
        ("2026-02-01", [20]),
        ("2026-02-28", [20]),
        ("2026-03-01", [10]),
    ],
)
def test_lists_hold_from_and_until_their_days_inclusive(
    day: str, expected: list[int], session: OfficeSession, supplier: Supplier, product: ProductRow
) -> None:
    list_in_force(session, supplier, (product, "10"))
    list_in_force(
        session, supplier, (product, "20"), valid_from=date(2026, 2, 1), valid_until=date(2026, 2, 28)
    )
    assert prices(book(session, date.fromisoformat(day))) == expected


def test_priority_goes_before_the_later_day(
    session: OfficeSession, supplier: Supplier, product: ProductRow
) -> None:
    list_in_force(session, supplier, (product, "10"), kind="promotion", priority=5)
    list_in_force(session, supplier, (product, "20"), valid_from=date(2026, 2, 1))
    assert prices(book(session)) == [10]


def test_what_a_newer_regular_list_leaves_out_is_gone_and_a_promotion_leaves_nothing_out(
    session: OfficeSession, supplier: Supplier
) -> None:
    one, two = ProductFactory(session=session), ProductFactory(session=session)
    list_in_force(session, supplier, (one, "10"), (two, "11"))
    list_in_force(session, supplier, (one, "9"), kind="promotion", valid_from=date(2026, 2, 20))
    assert sorted(prices(book(session))) == [9, 11]
    list_in_force(session, supplier, (one, "20"), valid_from=date(2026, 2, 1))
    assert sorted(prices(book(session))) == [9]
    assert sorted(prices(book(session, date(2026, 1, 31)))) == [10, 11]


def test_offers_for_one_job_count_for_that_job_only(
    session: OfficeSession, supplier: Supplier, product: ProductRow
) -> None:
    offer = list_in_force(session, supplier, (product, "5"), **JOB_OFFER, priority=9)
    assert prices(book(session)) == []
    assert prices(book(session, job_offers=[offer.id])) == [5]


@pytest.mark.parametrize("state", ["draft", "withdrawn"])
def test_only_active_lists_count(
    state: str, session: OfficeSession, supplier: Supplier, product: ProductRow
) -> None:
    price_list = PriceListFactory(session=session, supplier=supplier)
    sell(session, price_list, product, "10")
    for step in {"draft": [], "withdrawn": ["active", "withdrawn"]}[state]:
        price_list.state = step
        session.flush()
    assert book(session, datetime.now(UTC).date()).offers == ()


def test_archived_and_foreign_things_are_not_on_sale(
    session: OfficeSession, supplier: Supplier, product: ProductRow
) -> None:
    list_in_force(session, supplier, (product, "10"))
    assert len(book(session).offers) == 1
    assert book(session, currency="EUR").offers == ()
    assert load_price_book(session, ["tile"], DAY, "USD").offers == ()
    product.archived_at = supplier.created_at
    session.flush()
    assert book(session) == PriceBook(DAY, "USD", (), (), ())
    assert list(products_by_ids(session, [product.id])) == [product.id]


@pytest.mark.parametrize("seed", range(5))
def test_against_a_plain_reading_of_the_rule(seed: int, session: OfficeSession) -> None:
    random = Random(seed)
    products = [ProductFactory(session=session) for _ in range(3)]
    suppliers = [SupplierFactory(session=session) for _ in range(2)]
    for number in range(12):
        first = DAY + timedelta(days=10 * number - 60)
        list_in_force(
            session,
            random.choice(suppliers),
            *((p, str(random.randint(1, 99))) for p in random.sample(products, random.randint(1, 3))),
            priority=random.randint(0, 1),
            kind=random.choice(["regular", "regular", "promotion"]),
            valid_from=first,
            valid_until=random.choice([None, first + timedelta(days=random.randint(0, 40))]),
        )
    for offset in range(-70, 80, 15):
        day = DAY + timedelta(days=offset)
        found = {(o.supplier, o.product): o.breaks[0].price for o in book(session, day).offers}
        assert found == plain_reading(session, day)


def plain_reading(session: OfficeSession, day: date) -> dict[tuple[str, str], Decimal]:
    rows = session.query(PriceList, PriceItem).filter(PriceItem.price_list_id == PriceList.id).all()
    held = [
        (ls, it)
        for ls, it in rows
        if ls.valid_from <= day and (ls.valid_until is None or day <= ls.valid_until)
    ]

    def first(row: tuple[PriceList, PriceItem]) -> tuple[int, date]:
        return row[0].priority, row[0].valid_from

    regular = [row for row in held if row[0].kind == "regular"]
    counts = {
        supplier: max((row for row in regular if row[0].supplier_id == supplier), key=first)[0].id
        for supplier in {row[0].supplier_id for row in regular}
    }
    held = [row for row in held if row[0].kind != "regular" or row[0].id == counts[row[0].supplier_id]]

    def sold(row: tuple[PriceList, PriceItem]) -> tuple[str, str]:
        return str(row[0].supplier_id), str(row[1].product_id)

    groups = groupby(sorted(held, key=sold), sold)
    return {key: max(group, key=first)[1].price for key, group in groups}
