from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest
from cattrs.errors import ForbiddenExtraKeysError
from sqlalchemy.exc import IntegrityError

from service.pricing.model import Allowance, Rounding, Stage, TaxRule, Terms, Uplift
from service.store import rows
from service.store.ids import new_id
from service.store.labour import labour_table
from service.store.models import Customer, LabourTableRow, Supplier
from service.store.session import OfficeSession, open_session
from service.store.terms import default_terms, terms_body, terms_by_id
from tests.factories import (
    CustomerFactory,
    LabourRateFactory,
    LabourTableFactory,
    QuoteFactory,
    SupplierFactory,
    TermsFactory,
)

FULL = Terms(
    id="",
    name="",
    contingency_percent=Decimal("2.5"),
    uplifts={"default": Uplift("markup", Decimal(20)), "labour": Uplift("margin", Decimal("33.3"))},
    discount_percent=Decimal(3),
    taxes=(TaxRule("sales tax", Decimal("8.25"), "materials"), TaxRule("levy", Decimal(1))),
    deposit_percent=Decimal(30),
    stages=(Stage("start", Decimal(40)), Stage("end", Decimal(60))),
    retention_percent=Decimal(5),
    valid_days=14,
    allowances=(Allowance("tile", "m2", Decimal("35.50")),),
    rounding=Rounding("half_even", 2, Decimal("0.05")),
)


def test_a_change_needs_the_version_that_was_read(session: OfficeSession) -> None:
    row = SupplierFactory(session=session)
    changed = rows.change(session, Supplier, row.id, 1, name="New name")
    assert changed is row
    assert (row.name, row.version) == ("New name", 2)
    assert rows.change(session, Supplier, row.id, 1, name="Too late") is None
    assert rows.change(session, Supplier, row.id, None, name="Whatever it is") is row
    assert (row.name, row.version) == ("Whatever it is", 3)
    assert rows.change(session, Supplier, new_id(), None, name="Nobody") is None


def test_others_rows_are_neither_found_nor_changed(open_org: Callable[[], OfficeSession]) -> None:
    ours, theirs = open_org(), open_org()
    row = SupplierFactory(session=theirs)
    theirs.commit()
    assert rows.find(ours, Supplier, row.id) is None
    assert rows.by_ids(ours, Supplier, [row.id]) == {}
    assert rows.change(ours, Supplier, row.id, None, name="Mine") is None


def test_others_rows_are_not_removed(open_org: Callable[[], OfficeSession]) -> None:
    ours, theirs = open_org(), open_org()
    row = CustomerFactory(session=theirs)
    theirs.commit()
    assert not rows.remove(ours, Customer, row.id, None)


def test_archiving_keeps_the_row(session: OfficeSession) -> None:
    row = SupplierFactory(session=session)
    archived = rows.archive(session, Supplier, row.id, 1)
    assert archived is not None
    assert archived.archived_at is not None


def test_what_others_point_at_is_not_removed(session: OfficeSession) -> None:
    customer = CustomerFactory(session=session)
    QuoteFactory(session=session, customer_id=customer.id)
    with pytest.raises(IntegrityError), session.begin_nested():
        rows.remove(session, Customer, customer.id, 1)
    assert rows.remove(session, Customer, CustomerFactory(session=session).id, 1)


def test_names_clash_within_an_organisation_only(open_org: Callable[[], OfficeSession]) -> None:
    ours, theirs = open_org(), open_org()
    SupplierFactory(session=theirs, name="Same")
    theirs.commit()
    SupplierFactory(session=ours, name="Same")
    with pytest.raises(IntegrityError), ours.begin_nested():
        SupplierFactory(session=ours, name="Same")


def test_terms_read_back_as_written(session: OfficeSession) -> None:
    assert default_terms(session) is None
    row = TermsFactory(session=session, name="Usual", is_default=True, terms=FULL)
    session.commit()
    session.expire_all()
    found = default_terms(session)
    assert found is not None
    assert found == terms_by_id(session, row.id)
    assert (found.id, found.name) == (str(row.id), "Usual")
    assert terms_body(found) == terms_body(FULL)
    assert found.uplifts == FULL.uplifts
    assert found.taxes == FULL.taxes
    assert found.rounding == FULL.rounding


def test_terms_with_a_field_that_terms_do_not_have_are_refused(session: OfficeSession) -> None:
    row = TermsFactory(session=session, body={"discount_percnt": "5"})
    with pytest.raises(ExceptionGroup) as caught:
        terms_by_id(session, row.id)
    assert caught.group_contains(ForbiddenExtraKeysError)


def test_one_default_an_organisation(session: OfficeSession) -> None:
    TermsFactory(session=session, is_default=True)
    with pytest.raises(IntegrityError), session.begin_nested():
        TermsFactory(session=session, is_default=True)


def test_the_labour_table_of_a_day(session: OfficeSession) -> None:
    table = LabourTableFactory(session=session, name="Spring")
    LabourRateFactory(session=session, table=table)
    LabourRateFactory(session=session, table=table, activity="grout", hours=Decimal("0.01"))
    LabourTableFactory(session=session, valid_from=date(2026, 6, 1), name="Summer")
    LabourTableFactory(session=session, name="Two", crew_name="Joiners", hourly_charge=Decimal("71.5"))
    assert labour_table(session, date(2025, 12, 31)) is None
    joiners = labour_table(session, date(2026, 7, 1), "Joiners")
    assert joiners is not None
    assert (joiners.name, joiners.crew_name, joiners.hourly_charge) == ("Two", "Joiners", Decimal("71.5"))
    assert labour_table(session, date(2026, 7, 1), "Nobody") is None
    found = labour_table(session, date(2026, 5, 31))
    assert found is not None
    assert (found.name, found.crew, found.hourly_cost) == ("Spring", 2, Decimal(38))
    assert {name: rate.hours for name, rate in found.by_activity.items()} == {
        "grout": 0.01,
        "lay_membrane": 0.12,
    }
    later = labour_table(session, date(2026, 6, 1))
    assert later is not None
    assert later.name == "Summer"


def test_rates_go_with_their_table(session: OfficeSession) -> None:
    rate = LabourRateFactory(session=session)
    assert rows.remove(session, LabourTableRow, rate.labour_table_id, 1)


def test_an_unbound_session_is_told_so(session: OfficeSession) -> None:
    with open_session(session.connection()) as nobody, pytest.raises(KeyError, match="no organisation"):
        rows.find(nobody, Supplier, new_id())
