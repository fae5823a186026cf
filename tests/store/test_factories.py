from __future__ import annotations

import pytest

from service.store import models
from service.store.models import Base
from service.store.session import OfficeSession, bind_org
from tests.factories import ALL, OfficeFactory, OrganisationFactory


def test_every_stored_thing_has_a_factory() -> None:
    stored = {m.class_ for m in Base.registry.mappers}
    by_triggers = {models.AuditEntry, models.QuoteImprint}
    assert {f._meta.model for f in ALL} == stored - by_triggers


@pytest.mark.parametrize(
    "factory", [f for f in ALL if f is not OrganisationFactory], ids=lambda f: f.__name__
)
def test_factory_builds_and_saves(factory: type[OfficeFactory], session: OfficeSession) -> None:
    assert factory.build().org_id is not None
    row = factory(session=session)
    session.commit()
    session.expire(row)
    assert str(row.org_id) == session.info["app.org"]


def test_organisations_are_saved_under_their_own_id(session: OfficeSession) -> None:
    built = OrganisationFactory.build()
    bind_org(session, built.org_id)
    OrganisationFactory(session=session, org_id=built.org_id)
    session.expire_all()
    assert session.get(models.Organisation, built.org_id) is not None
