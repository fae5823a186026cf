"""Every change of what prices come from is on record, and the record cannot be changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Connection, delete, func, insert, select, text, update
from sqlalchemy.exc import IntegrityError, ProgrammingError

from service.store import price_lists, rows
from service.store.audit import Asked, entries
from service.store.customers import erase
from service.store.engine import make_engine
from service.store.ids import new_id
from service.store.models import (
    AuditEntry,
    Base,
    Customer,
    LabourRateRow,
    PriceItem,
    PriceList,
    Supplier,
    TermsRow,
)
from service.store.price_lists import NewPrice
from service.store.session import OfficeSession, bind_key, open_session
from tests import factories

ROW_BY_ROW = [
    (factories.SupplierFactory, "supplier"),
    (factories.ProductFactory, "product"),
    (factories.TermsFactory, "terms"),
    (factories.LabourTableFactory, "labour_table"),
    (factories.LabourCalibrationFactory, "labour_calibration"),
    (factories.PriceListFactory, "price_list"),
    (factories.AgreementFactory, "agreement"),
    (factories.TaxRulesFactory, "tax"),
    (factories.ExchangeRateFactory, "exchange_rate"),
    (factories.WebhookFactory, "webhook"),
]
MAKE_NO_PRICE = (
    "api_keys",
    "audit_entries",
    "idempotency_keys",
    "quote",
    "ballpark_models",
    "webhook_",
    "repricing",
)
"""How the names of the tables begin that prices do not come from; webhooks are noted all the same."""


def noted(session: OfficeSession, **asked: Any) -> list[AuditEntry]:
    return list(reversed(entries(session, Asked(**asked), 200)))


@pytest.mark.parametrize(("factory", "subject"), ROW_BY_ROW, ids=lambda value: str(value))
def test_a_new_row_is_noted_with_its_key(factory: Any, subject: str, session: OfficeSession) -> None:
    key = new_id()
    bind_key(session, key)
    row = factory(session=session)
    (entry,) = noted(session, subject=subject)
    assert (entry.action, entry.subject_id, entry.key_id, entry.old) == ("created", row.id, key, None)
    assert entry.new
    assert not entry.new.keys() & {"org_id", "id", "version"}


def test_no_table_that_prices_come_from_is_left_out(connection: Connection) -> None:
    """A table that comes later is either noted or named here as one that makes no price."""
    triggered = text("SELECT tgrelid::regclass::text FROM pg_trigger WHERE tgname LIKE 'noted%'")
    tables = set(connection.scalars(triggered))
    expected = {name for name in Base.metadata.tables if not name.startswith(MAKE_NO_PRICE)}
    assert tables == expected, "give it a trigger as the audit's revision does, or name it above"


def test_a_change_tells_old_and_new_of_what_differs(session: OfficeSession) -> None:
    row = factories.SupplierFactory(session=session)
    rows.change(session, Supplier, row.id, 1, delivery_charge=Decimal("49.9"))
    rows.change(session, Supplier, row.id, 2)
    rows.archive(session, Supplier, row.id, 3)
    changed, archived = noted(session, subject="supplier")[1:]
    assert (changed.action, changed.old, changed.new) == (
        "changed",
        {"delivery_charge": "45.0000"},
        {"delivery_charge": "49.9000"},
    )
    assert (archived.action, list(archived.new or {})) == ("archived", ["archived_at"])


def test_what_is_removed_stays_on_record(session: OfficeSession) -> None:
    row = factories.TermsFactory(session=session)
    rows.remove(session, TermsRow, row.id, 1)
    removed = noted(session, subject="terms")[-1]
    assert (removed.action, removed.new) == ("removed", None)
    assert removed.old is not None
    assert removed.old["body"] == row.body


def test_own_trade_values_are_noted_and_the_letterhead_is_not(session: OfficeSession, org: Any) -> None:
    org.letterhead = {"name": "Invented Floors"}
    session.flush()
    org.value_overrides = {"some.value": 12.5}
    session.flush()
    (entry,) = noted(session, subject="organisation")
    assert (entry.subject_id, entry.old) == (org.org_id, {"value_overrides": {}})
    assert entry.new == {"value_overrides": {"some.value": 12.5}}


def write(session: OfficeSession, price_list: PriceList, *prices: tuple[Any, str]) -> None:
    new = [NewPrice(product.id, Decimal(10), Decimal(price)) for product, price in prices]
    price_lists.replace_items(session, price_list.id, new)


def test_an_activation_tells_its_prices_against_the_list_before(session: OfficeSession) -> None:
    supplier = factories.SupplierFactory(session=session)
    one, two, three = (factories.ProductFactory(session=session) for _ in range(3))
    first = factories.PriceListFactory(session=session, supplier=supplier)
    write(session, first, (one, "24.50"), (two, "8"))
    price_lists.activate(session, first.id, 1)
    second = factories.PriceListFactory(session=session, supplier=supplier, valid_from=date(2026, 2, 1))
    write(session, second, (one, "25.125"), (three, "3"))
    price_lists.activate(session, second.id, 1)
    entry = noted(session, subject_id=second.id)[-1]
    assert (entry.action, entry.old) == ("activated", {"state": "draft", "activated_at": None})
    assert entry.new is not None
    prices = entry.new["prices"]
    assert {name: prices[name] for name in ("former_list", "items", "new", "gone", "changed")} == {
        "former_list": str(first.id),
        "items": 2,
        "new": 1,
        "gone": 1,
        "changed": 1,
    }
    (change,) = prices["changes"]
    assert (change["product_id"], change["old"], change["new"]) == (str(one.id), "24.50", "25.125")
    rows.change(session, PriceList, second.id, 2, state="withdrawn")
    withdrawn, ended = noted(session, subject_id=second.id)[-2:]
    assert (withdrawn.action, ended.action, ended.new) == ("withdrawn", "prices_ended", None)
    assert ended.old is not None
    assert ended.old["items"] == 2
    assert sorted(row["price"] for row in ended.old["prices"]) == ["25.125", "3"]


def test_what_a_promotion_does_not_name_is_not_gone(session: OfficeSession) -> None:
    supplier = factories.SupplierFactory(session=session)
    one, two = (factories.ProductFactory(session=session) for _ in range(2))
    for number, product in enumerate((one, two), start=1):
        promotion = factories.PriceListFactory(
            session=session, supplier=supplier, kind="promotion", valid_from=date(2026, number, 1)
        )
        write(session, promotion, (product, "8"))
        price_lists.activate(session, promotion.id, 1)
    entry = noted(session, subject_id=promotion.id)[-1]
    assert entry.new is not None
    assert (entry.new["prices"]["new"], entry.new["prices"]["gone"]) == (1, 0)


def test_of_a_customer_only_the_kind_is_on_record(session: OfficeSession) -> None:
    row = factories.CustomerFactory(session=session, kind="consumer")
    rows.change(session, Customer, row.id, None, name="Someone else", email="someone@example.org")
    rows.change(session, Customer, row.id, None, kind="business", note="pays late")
    erase(session, row.id, None)
    told = [(entry.action, entry.old, entry.new) for entry in noted(session, subject="customer")]
    assert told == [
        ("created", None, {"kind": "consumer"}),
        ("changed", {"kind": "consumer"}, {"kind": "business"}),
    ]


def test_prices_are_noted_by_the_statement_and_not_by_the_row(session: OfficeSession) -> None:
    price_list = factories.PriceListFactory(session=session)
    product = factories.ProductFactory(session=session)
    many = [NewPrice(product.id, Decimal(n), Decimal(n)) for n in range(1, 801)]
    price_lists.replace_items(session, price_list.id, many)
    price_lists.replace_items(session, price_list.id, many[:3])
    told = [(e.action, e.old, e.new) for e in noted(session, subject_id=price_list.id)[1:]]
    assert told == [
        ("prices_written", None, {"items": 800}),
        ("prices_removed", {"items": 800}, None),
        ("prices_written", None, {"items": 3}),
    ]


def test_labour_rates_are_noted_together(session: OfficeSession) -> None:
    table = factories.LabourTableFactory(session=session)
    factories.LabourRateFactory(session=session, table=table)
    session.execute(update(LabourRateRow).values(hours=Decimal("0.15")))
    session.execute(delete(LabourRateRow))
    told = [(e.action, e.old or e.new) for e in noted(session, subject_id=table.id)[1:]]
    assert [action for action, _ in told] == [
        "rates_written",
        "rates_changed",
        "rates_changed",
        "rates_removed",
    ]
    assert told[0][1] == [{"activity": "lay_membrane", "driver": "area", "unit": "m2", "hours": "0.120000"}]
    assert told[-1][1][0]["hours"] == "0.150000"  # type: ignore[index]


def test_what_is_rolled_back_is_not_on_record(session: OfficeSession) -> None:
    factories.SupplierFactory(session=session)
    session.rollback()
    assert noted(session, subject="supplier") == []


@pytest.mark.parametrize(
    "statement",
    [
        update(AuditEntry).values(action="never"),
        delete(AuditEntry),
        insert(AuditEntry).values(org_id=new_id(), action="x", subject="x", subject_id=new_id()),
        text("SELECT note_change(NULL::uuid, '', '', NULL::uuid, NULL::jsonb, NULL::jsonb)"),
        text("TRUNCATE audit_entries"),
        text("DROP TRIGGER noted ON suppliers"),
        text("ALTER TABLE suppliers DISABLE TRIGGER noted"),
        text("SET session_replication_role = replica"),
    ],
    ids=str,
)
def test_the_service_cannot_touch_the_record(statement: Any, session: OfficeSession) -> None:
    factories.SupplierFactory(session=session)
    session.commit()
    with pytest.raises(ProgrammingError, match=r"permission denied|must be owner"):
        session.execute(statement)
    session.rollback()
    assert len(noted(session, subject="supplier")) == 1


@pytest.mark.parametrize("statement", ["UPDATE audit_entries SET action = ''", "DELETE FROM audit_entries"])
def test_nor_can_the_owner_of_the_tables(statement: str, database_url: str) -> None:
    owner = make_engine(database_url, "office_owner")
    with owner.connect() as connection, pytest.raises(IntegrityError, match="stays on record"):
        connection.execute(text(statement))
    owner.dispose()


def test_organisations_do_not_read_each_others_record(open_org: Callable[[], OfficeSession]) -> None:
    ours, theirs = open_org(), open_org()
    factories.SupplierFactory(session=theirs)
    theirs.commit()
    assert noted(ours) == []


def test_the_key_leaves_with_the_session(connection: Connection, session: OfficeSession) -> None:
    bind_key(session, new_id())
    session.commit()
    with open_session(connection, join_transaction_mode="create_savepoint") as other:
        assert other.scalar(text("SELECT current_setting('app.key', true)")) == ""


def test_items_of_a_removed_draft_are_noted_too(session: OfficeSession) -> None:
    price_list = factories.PriceListFactory(session=session)
    write(session, price_list, (factories.ProductFactory(session=session), "5"))
    rows.remove(session, PriceList, price_list.id, 1)
    assert [e.action for e in noted(session, subject_id=price_list.id)][-2:] == ["removed", "prices_removed"]
    assert session.scalar(select(func.count()).select_from(PriceItem)) == 0
