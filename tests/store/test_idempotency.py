from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import Engine, func, select

from service.store import idempotency
from service.store.engine import make_engine
from service.store.ids import new_id
from service.store.models import IdempotencyKey
from service.store.session import OfficeSession, open_session, org_of, transaction
from tests.factories import IdempotencyKeyFactory, OrganisationFactory

LONG_AGO = datetime.now(UTC) - timedelta(days=2)


def test_an_answer_is_found_again(session: OfficeSession) -> None:
    idempotency.save_answer(session, "k", "f", 201, {"Location": "/x"}, b'{"a": 1}', 24)
    found = idempotency.find_answer(session, "k")
    assert found is not None
    assert (found.fingerprint, found.status, found.headers, found.body) == (
        "f",
        201,
        {"Location": "/x"},
        b'{"a": 1}',
    )
    hours = session.scalar(select(func.extract("epoch", found.expires_at - func.now()) / 3600))
    assert float(hours or 0) == pytest.approx(24, abs=0.01)
    assert idempotency.find_answer(session, "other") is None


def test_an_expired_answer_is_as_good_as_none_and_is_written_over(session: OfficeSession) -> None:
    IdempotencyKeyFactory(session=session, key="k", expires_at=LONG_AGO)
    assert idempotency.find_answer(session, "k") is None
    idempotency.save_answer(session, "k", "new", 200, {}, b"", 1)
    session.expire_all()
    found = idempotency.find_answer(session, "k")
    assert found is not None
    assert found.fingerprint == "new"


def test_one_request_at_a_time_holds_a_key(live_engine: Engine) -> None:
    ours, theirs = new_id(), new_id()
    with open_session(live_engine, ours) as first, open_session(live_engine, ours) as second:
        assert idempotency.try_lock(first, "k")
        assert not idempotency.try_lock(second, "k")
        assert idempotency.try_lock(second, "another")
        with open_session(live_engine, theirs) as stranger:
            assert idempotency.try_lock(stranger, "k")
        first.rollback()
        assert idempotency.try_lock(second, "k")


def test_expired_answers_of_all_organisations_go_and_no_others(
    live_engine: Engine, database_url: str
) -> None:
    for _ in range(2):
        with transaction(live_engine, new_id()) as session:
            OrganisationFactory(session=session, org_id=org_of(session))
            IdempotencyKeyFactory(session=session, key="old", expires_at=LONG_AGO)
            IdempotencyKeyFactory(session=session, key="new")
            last = org_of(session)
    with transaction(live_engine) as stranger:
        assert idempotency.purge_expired(stranger) == 0
    batch = make_engine(database_url, "office_batch")
    with transaction(batch) as session:
        assert idempotency.purge_expired(session) == 2
        assert session.scalars(select(IdempotencyKey)).all() == []
    batch.dispose()
    with transaction(live_engine, last) as session:
        assert session.scalars(select(IdempotencyKey.key)).all() == ["new"]
