from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Engine, delete, func, insert, select, text, update
from sqlalchemy.exc import IntegrityError

from service.store import price_lists, rows
from service.store.engine import make_engine
from service.store.ids import new_id
from service.store.models import Agreement, PriceItem, PriceList, ProductRow, Supplier
from service.store.price_lists import NewPrice, PriceListFault
from service.store.session import OfficeSession, open_session, org_of
from tests.factories import (
    AgreementFactory,
    OrganisationFactory,
    PriceItemFactory,
    PriceListFactory,
    ProductFactory,
    SupplierFactory,
)


@pytest.fixture
def active(session: OfficeSession) -> PriceList:
    item = PriceItemFactory(session=session)
    changed = price_lists.activate(session, item.price_list_id, 1)
    assert changed is not None
    return changed


def test_activating_takes_the_version_that_was_read(session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    assert price_lists.activate(session, item.price_list_id, 2) is None
    changed = price_lists.activate(session, item.price_list_id, 1)
    assert changed is not None
    assert (changed.state, changed.version, changed.activated_at is not None) == ("active", 2, True)


def test_activating_queues_the_look_through_the_quotes(session: OfficeSession, active: PriceList) -> None:
    job = session.execute(
        text("SELECT task_name, args FROM jobs.procrastinate_jobs ORDER BY id DESC LIMIT 1")
    ).one()
    expected = {"org_id": str(org_of(session)), "price_list_id": str(active.id)}
    assert tuple(job) == ("office:note_price_change", expected)


def test_an_empty_list_is_not_activated(session: OfficeSession) -> None:
    with pytest.raises(PriceListFault, match="no prices"):
        price_lists.activate(session, PriceListFactory(session=session).id, None)


def test_a_break_dearer_than_fewer_packs_is_named(session: OfficeSession) -> None:
    product = ProductFactory(session=session, name="Grout grey")
    price_list = PriceListFactory(session=session)
    for min_packs, price in ((1, "9.00"), (5, "8.00"), (10, "8.01")):
        PriceItemFactory(
            session=session, product=product, price_list=price_list, min_packs=min_packs, price=price
        )
    with pytest.raises(PriceListFault, match=r"fewer are bought: Grout grey \(pack of 10\.0000, from 10\)"):
        price_lists.activate(session, price_list.id, None)


def test_a_pack_without_a_price_from_one_on_is_named(session: OfficeSession) -> None:
    product = ProductFactory(session=session, name="Grout grey")
    item = PriceItemFactory(session=session, product=product, min_packs=5)
    with pytest.raises(PriceListFault, match=r"Grout grey \(pack of 10"):
        price_lists.activate(session, item.price_list_id, None)


def test_a_drafts_prices_are_written_over(session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    new = [
        NewPrice(item.product_id, Decimal(5), Decimal(9)),
        NewPrice(item.product_id, Decimal(5), Decimal(8), 10),
    ]
    price_lists.replace_items(session, item.price_list_id, new)
    held = price_lists.items_of(session, item.price_list_id)
    assert [(i.pack_size, i.min_packs, i.price) for i in held] == [(5, 1, 9), (5, 10, 8)]


TOUCHES: list[Callable[[PriceList, PriceItem], Any]] = [
    lambda ls, it: update(PriceItem).where(PriceItem.id == it.id).values(price=1),
    lambda ls, it: delete(PriceItem).where(PriceItem.id == it.id),
    lambda ls, it: insert(PriceItem).values(
        org_id=ls.org_id, id=new_id(), price_list_id=ls.id, product_id=it.product_id, pack_size=99, price=1
    ),
    lambda ls, it: update(PriceList).where(PriceList.id == ls.id).values(valid_from=date(2020, 1, 1)),
    lambda ls, it: update(PriceList).where(PriceList.id == ls.id).values(priority=7),
    lambda ls, it: update(PriceList).where(PriceList.id == ls.id).values(state="draft"),
    lambda ls, it: delete(PriceList).where(PriceList.id == ls.id),
]


@pytest.mark.parametrize("touch", TOUCHES)
def test_not_even_the_owner_edits_an_activated_list(
    touch: Callable[[PriceList, PriceItem], Any], live_engine: Engine, database_url: str
) -> None:
    owner = make_engine(database_url, "office_owner")
    try:
        with open_session(owner, new_id()) as session:
            OrganisationFactory(session=session, org_id=org_of(session))
            item = PriceItemFactory(session=session)
            price_list = rows.find(session, PriceList, item.price_list_id)
            assert price_list is not None
            price_list.state = "active"
            session.flush()
            with pytest.raises(IntegrityError, match=r"never edited|only end or be withdrawn"):
                session.execute(touch(price_list, item))
    finally:
        owner.dispose()


def test_prices_do_not_move_into_an_activated_list(session: OfficeSession, active: PriceList) -> None:
    product = ProductFactory(session=session)
    with pytest.raises(IntegrityError, match="never edited"), session.begin_nested():
        price_lists.replace_items(session, active.id, [NewPrice(product.id, Decimal(1), Decimal(1))])


@pytest.mark.parametrize(
    ("days", "fits"),
    [((3,), True), ((3, 3), True), ((3, 0), True), ((-1,), False), ((3, 4), False), ((3, None), False)],
)
@pytest.mark.parametrize("kind", ["list", "agreement"])
def test_a_last_day_only_comes_nearer_and_is_not_over(
    kind: str, days: tuple[int | None, ...], fits: bool, session: OfficeSession, active: PriceList
) -> None:
    row: Any = active if kind == "list" else AgreementFactory(session=session)
    *before, last = (None if day is None else today() + timedelta(days=day) for day in days)
    for day in before:
        assert rows.change(session, type(row), row.id, None, valid_until=day) is not None
    if fits:
        changed: Any = rows.change(session, type(row), row.id, None, valid_until=last)
        assert changed.valid_until == last
        return
    with pytest.raises(IntegrityError, match="only end"), session.begin_nested():
        rows.change(session, type(row), row.id, None, valid_until=last)


def today() -> date:
    return datetime.now(UTC).date()


def test_a_list_is_withdrawn_at_that_moment_and_for_good(session: OfficeSession, active: PriceList) -> None:
    now = session.scalar(select(func.now()))
    assert active.activated_at == now
    long_ago = datetime(2026, 1, 2, tzinfo=UTC)
    with pytest.raises(IntegrityError), session.begin_nested():
        rows.change(session, PriceList, active.id, None, withdrawn_at=long_ago)
    gone = rows.change(session, PriceList, active.id, None, state="withdrawn", withdrawn_at=long_ago)
    assert gone is not None
    assert gone.withdrawn_at == now
    for values in ({"state": "active"}, {"withdrawn_at": None}, {"valid_until": today()}):
        with pytest.raises(IntegrityError), session.begin_nested():
            rows.change(session, PriceList, active.id, None, **values)


LONG_AGO = datetime(2026, 1, 2, tzinfo=UTC)


@pytest.mark.parametrize(
    "values", [{"state": "active"}, {"activated_at": LONG_AGO}, {"holds_from": LONG_AGO}]
)
def test_a_list_is_not_written_as_an_active_one(values: dict[str, Any], session: OfficeSession) -> None:
    supplier = SupplierFactory(session=session)
    head = {
        "org_id": supplier.org_id,
        "id": new_id(),
        "supplier_id": supplier.id,
        "name": "L",
        "valid_from": today(),
    }
    with pytest.raises(IntegrityError, match="begins as a draft"), session.begin_nested():
        session.execute(insert(PriceList).values(**head, **values))


@pytest.mark.parametrize(
    "values",
    [{"state": "active", "holds_from": LONG_AGO}, {"state": "withdrawn"}, {"activated_at": LONG_AGO}],
)
def test_a_draft_is_not_put_into_the_past(values: dict[str, Any], session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    with pytest.raises(IntegrityError), session.begin_nested():
        rows.change(session, PriceList, item.price_list_id, None, **values)


def test_activated_prices_keep_their_currency_role_and_unit(session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    price_list = rows.find(session, PriceList, item.price_list_id)
    assert price_list is not None
    changes: list[tuple[Any, Any, dict[str, str]]] = [
        (Supplier, price_list.supplier_id, {"currency": "CHF"}),
        (ProductRow, item.product_id, {"role": "tile"}),
        (ProductRow, item.product_id, {"unit": "m2"}),
    ]
    for model, row_id, values in changes:
        with session.begin_nested() as undo:
            assert rows.change(session, model, row_id, None, **values) is not None, "a draft may still change"
            undo.rollback()
    price_lists.activate(session, price_list.id, None)
    for model, row_id, values in changes:
        with pytest.raises(IntegrityError, match="activated prices stay"), session.begin_nested():
            rows.change(session, model, row_id, None, **values)
        assert rows.change(session, model, row_id, None, name=f"Other {row_id}") is not None


def test_a_draft_goes_with_its_prices(session: OfficeSession) -> None:
    item = PriceItemFactory(session=session)
    assert rows.remove(session, PriceList, item.price_list_id, 1)
    assert session.scalars(select(PriceItem.id)).all() == []


def test_one_active_list_a_kind_and_day(session: OfficeSession, active: PriceList) -> None:
    twin = PriceListFactory(session=session, supplier_id=active.supplier_id)
    PriceItemFactory(session=session, price_list=twin)
    with pytest.raises(IntegrityError, match="price_lists_one_active_idx"), session.begin_nested():
        price_lists.activate(session, twin.id, None)


def test_prices_written_beside_an_activation_wait_and_are_refused(live_engine: Engine) -> None:
    """Two sessions, step by step: the activation is not yet committed when the other writes a price."""
    org_id = new_id()
    with open_session(live_engine, org_id) as setup, setup.begin():
        OrganisationFactory(session=setup, org_id=org_id)
        item = PriceItemFactory(session=setup)
        ids = item.price_list_id, item.product_id
    with open_session(live_engine, org_id) as clerk, open_session(live_engine, org_id) as late:
        price_lists.activate(clerk, ids[0], 1)
        late.execute(text("SET LOCAL lock_timeout = '100ms'"))
        with pytest.raises(Exception, match="lock timeout"):
            late.execute(
                insert(PriceItem).values(
                    org_id=org_id, id=new_id(), price_list_id=ids[0], product_id=ids[1], pack_size=3, price=1
                )
            )
        clerk.commit()
    with open_session(live_engine, org_id) as after:
        assert len(price_lists.items_of(after, ids[0])) == 1


OFFER = {"kind": "job_offer", "valid_until": date(2027, 12, 31), "state": "active"}


def test_job_offers_share_a_day_by_reference_and_no_other_list_does(session: OfficeSession) -> None:
    supplier = SupplierFactory(session=session)
    for reference in ("Site 12", "Site 13"):
        PriceListFactory(session=session, supplier_id=supplier.id, reference=reference, **OFFER)
    for twin in (
        {**OFFER, "reference": "Site 12"},
        {"state": "active"},
        {"kind": "promotion", "state": "active"},
    ):
        if twin.get("kind") != "job_offer":
            PriceListFactory(session=session, supplier_id=supplier.id, **twin)
        with pytest.raises(IntegrityError, match="price_lists_one_active_idx"), session.begin_nested():
            PriceListFactory(session=session, supplier_id=supplier.id, **twin)


def test_a_withdrawn_list_makes_room_for_its_day(session: OfficeSession, active: PriceList) -> None:
    price_lists.withdraw(session, active.id, None)
    PriceListFactory(session=session, supplier_id=active.supplier_id, state="active")
    with pytest.raises(IntegrityError), session.begin_nested():
        rows.change(session, PriceList, active.id, None, state="active")


@pytest.mark.parametrize(
    "values", [{"kind": "job_offer"}, {"reference": "Site 12"}, {"kind": "job_offer", "reference": "Site 12"}]
)
def test_an_offer_for_one_job_is_named_and_ends(session: OfficeSession, values: dict[str, Any]) -> None:
    with pytest.raises(IntegrityError, match="job_offer_check"), session.begin_nested():
        PriceListFactory(session=session, **values)


@pytest.mark.parametrize("price", ["30.67", "30.672676"])
def test_a_price_is_what_list_price_and_percent_make(session: OfficeSession, price: str) -> None:
    how = {
        "list_price": Decimal("45.90"),
        "per": "m2",
        "priced_units": Decimal("0.99"),
        "percent": Decimal("32.5"),
    }
    PriceItemFactory(session=session, price=Decimal("30.672675"), **how)
    with pytest.raises(IntegrityError, match="price_items_sum_check"), session.begin_nested():
        PriceItemFactory(session=session, price=Decimal(price), **how)


def test_an_agreement_only_ends(session: OfficeSession) -> None:
    agreement = AgreementFactory(session=session, created_at=LONG_AGO)
    assert rows.change(session, Agreement, agreement.id, None, valid_until=today()) is not None
    session.refresh(agreement)
    assert agreement.created_at == session.scalar(select(func.now())), "not known before it was written"
    with pytest.raises(IntegrityError, match="only end"), session.begin_nested():
        rows.change(session, Agreement, agreement.id, None, percent=Decimal(50))
