"""The supplier's own codes for his articles: read, kept, matched by, and held against what they stand for."""

from __future__ import annotations

import io
from typing import Any

import pytest

from service.quoting.imports.report import Report
from service.quoting.imports.run import import_prices
from service.quoting.imports.source import Options
from service.store import price_lists
from service.store.models import PriceList, ProductRow, Supplier
from service.store.session import OfficeSession
from tests.factories import PriceListFactory, ProductFactory, SupplierFactory

HEAD = "Code,Description,Supplier code,Split box,Pack size,Net price\n"
FIRST = f"{HEAD}GR-1,Grout ash,900-1,no,25,51.00\nGR-1,Grout ash,900-1,yes,1,2.60\nGR-2,,900-2,,25,53.00\n"


@pytest.fixture
def goods(session: OfficeSession) -> list[ProductRow]:
    return [
        ProductFactory(session=session, code=code, name=name)
        for code, name in [("GR-1", "Grout ash"), ("GR-2", "Grout clay"), ("GR-3", "Grout moss")]
    ]


@pytest.fixture
def supplier(session: OfficeSession, goods: list[ProductRow]) -> Supplier:
    """He has sold 900-1 and 900-2 since last month."""
    supplier = SupplierFactory(session=session)
    listed = PriceListFactory(session=session, supplier_id=supplier.id)
    assert run(session, listed, FIRST, activate=True).activated
    return supplier


def run(session: OfficeSession, price_list: PriceList, content: str, **said: Any) -> Report:
    return import_prices(session, price_list.id, io.BytesIO(content.encode()), Options(**said))


def later(session: OfficeSession, supplier: Supplier) -> PriceList:
    return PriceListFactory(session=session, supplier_id=supplier.id, kind="promotion")


def test_the_codes_and_the_split_boxes_are_kept(session: OfficeSession, supplier: Supplier) -> None:
    listed = session.query(PriceList).filter_by(supplier_id=supplier.id).one()
    kept = [(i.supplier_code, i.split, i.pack_size) for i in price_lists.items_of(session, listed.id)]
    assert sorted(kept) == [("900-1", False, 25), ("900-1", True, 1), ("900-2", False, 25)]


@pytest.mark.parametrize(
    "content",
    [
        "Supplier article,Pack size,Net price\n900-2,25,54.00\n",
        "Article no,Pack size,Net price\n900-2,25,54.00\n",
        "Ours,Lief.,Pack size,Net price\n,900-2,25,54.00\n",
    ],
    ids=["headed so", "in the column of the office's codes", "mapped"],
)
def test_a_row_is_found_by_the_suppliers_code_alone(
    session: OfficeSession, goods: list[ProductRow], supplier: Supplier, content: str
) -> None:
    said = {"columns": {"Ours": "code", "Lief.": "supplier_code"}} if "Ours" in content else {}
    listed = later(session, supplier)
    report = run(session, listed, content, **said)
    assert report.counts["accepted"] == 1, report.rejected
    kept = [(i.product_id, i.supplier_code) for i in price_lists.items_of(session, listed.id)]
    assert kept == [(goods[1].id, "900-2")]


@pytest.mark.parametrize(
    ("line", "column", "reason"),
    [
        ("GR-3,,900-1,,25,1.00", "Supplier code", "the supplier's code for another product, Grout ash"),
        (",Grout moss,900-1,,25,1.00", "Supplier code", "for another product, Grout ash"),
        ("GR-3,,900-7,,25,1.00\nGR-2,,900-7,,25,1.00", "Supplier code", "of another product in row 2"),
        (",,900-9,,25,1.00", "Supplier code", "no such product"),
        ("GR-9,,900-1,,25,1.00", "Code", "no such product"),
        ("GR-3,,900-3,perhaps,25,1.00", "Split box", "neither yes nor no"),
    ],
)
def test_a_code_that_stands_for_something_else_is_left_out_and_told(
    session: OfficeSession, supplier: Supplier, line: str, column: str, reason: str
) -> None:
    report = run(session, later(session, supplier), f"{HEAD}{line}\n", create_products=True)
    assert [rejected.column for rejected in report.rejected] == [column]
    assert reason in report.rejected[0].reason


def test_another_suppliers_codes_are_his_own(session: OfficeSession, supplier: Supplier) -> None:
    other = SupplierFactory(session=session)
    report = run(session, later(session, other), f"{HEAD}GR-3,,900-1,,25,1.00\n")
    assert report.counts["accepted"] == 1
