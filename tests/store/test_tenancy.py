"""Row-level security, seen in the catalogue and tried by its roles."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

import pytest
from sqlalchemy import Connection, Engine, func, select, text
from sqlalchemy.exc import ProgrammingError

from service.store import keys
from service.store.engine import make_engine
from service.store.ids import new_id
from service.store.models import ApiKey, Base, Supplier
from service.store.session import OfficeSession, bind_org, open_session
from tests.factories import SupplierFactory

TABLES = sorted(Base.metadata.tables)
OPEN = Callable[[], OfficeSession]


def test_every_table_of_the_database_is_an_organisations(connection: Connection) -> None:
    listed = connection.scalars(text("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")).all()
    assert sorted(listed) == sorted(["alembic_version", *TABLES])
    assert all("org_id" in Base.metadata.tables[name].c for name in TABLES)


@pytest.mark.parametrize("table", TABLES)
def test_table_is_walled_off(table: str, connection: Connection) -> None:
    forced = "SELECT relrowsecurity AND relforcerowsecurity FROM pg_class WHERE oid = to_regclass(:table)"
    assert connection.scalar(text(forced), {"table": table})
    policy = (
        "SELECT qual, with_check FROM pg_policies"
        " WHERE tablename = :table AND policyname = 'own_organisation' AND cmd = 'ALL' AND roles = '{public}'"
    )
    using, check = connection.execute(text(policy), {"table": table}).one()
    assert using == check
    assert "app.org" in using


@pytest.mark.parametrize("table", TABLES)
def test_every_key_starts_with_the_organisation(table: str, connection: Connection) -> None:
    first = (
        "SELECT conname, attname FROM pg_constraint"
        " JOIN pg_attribute ON attrelid = conrelid AND attnum = conkey[1]"
        " WHERE conrelid = to_regclass(:table) AND contype IN ('p', 'u', 'f')"
    )
    columns = connection.execute(text(first), {"table": table}).all()
    assert f"{table}_pkey" in {name for name, _ in columns}
    assert {column for _, column in columns} == {"org_id"}


def test_only_named_doors_lead_through_the_wall(connection: Connection) -> None:
    doors = "SELECT policyname, tablename, cmd FROM pg_policies WHERE policyname <> 'own_organisation'"
    assert {tuple(row) for row in connection.execute(text(doors))} == {
        ("by_possession", "api_keys", "SELECT"),
        ("by_origin", "api_keys", "SELECT"),
        ("for_ballparks", "api_keys", "SELECT"),
        ("expired_seen", "idempotency_keys", "SELECT"),
        ("expired_purged", "idempotency_keys", "DELETE"),
        ("run_out_seen", "quotes", "SELECT"),
        ("old_seen", "webhook_events", "SELECT"),
        ("old_purged", "webhook_events", "DELETE"),
        ("running_seen", "repricings", "SELECT"),
    }


def test_organisations_do_not_see_each_other(open_org: OPEN) -> None:
    ours, theirs = open_org(), open_org()
    row = SupplierFactory(session=theirs)
    theirs.commit()
    assert ours.scalars(select(Supplier)).all() == []
    ours.commit()
    assert theirs.scalars(select(Supplier.id)).all() == [row.id]


def test_a_session_of_no_organisation_sees_nothing(connection: Connection, session: OfficeSession) -> None:
    SupplierFactory(session=session)
    session.commit()
    with open_session(connection, join_transaction_mode="create_savepoint") as nobody:
        assert nobody.scalar(select(func.count()).select_from(Supplier)) == 0


def test_nobody_writes_into_another_organisation(session: OfficeSession) -> None:
    with pytest.raises(ProgrammingError, match="row-level security"):
        SupplierFactory(session=session, org_id=new_id())


def test_the_organisation_leaves_with_the_transaction(live_engine: Engine) -> None:
    setting = text("SELECT current_setting('app.org', true)")
    with open_session(live_engine, new_id()) as session:
        assert session.scalar(setting) == session.info["app.org"]
    with live_engine.connect() as connection:
        assert connection.scalar(setting) in (None, "")


def test_a_rolled_back_session_is_bound_again(session: OfficeSession) -> None:
    session.rollback()
    assert session.scalar(text("SELECT current_setting('app.org')")) == session.info["app.org"]


def test_even_the_owner_of_the_tables_is_blind(database_url: str, live_engine: Engine) -> None:
    org_id = new_id()
    with open_session(live_engine, org_id) as session, session.begin():
        session.execute(
            text(
                "INSERT INTO organisations (org_id, name, currency, standards) VALUES (:id, 'x', 'USD', 'us')"
            ),
            {"id": org_id},
        )
    owner = make_engine(database_url, "office_owner")
    with owner.connect() as connection:
        assert connection.scalar(text("SELECT count(*) FROM organisations")) == 0
    owner.dispose()


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TABLE mine (id int)",
        "ALTER TABLE suppliers ADD COLUMN mine int",
        "ALTER TABLE suppliers DISABLE ROW LEVEL SECURITY",
        "DROP POLICY own_organisation ON suppliers",
        "TRUNCATE suppliers",
        "DELETE FROM quotes",
        "UPDATE quote_lines SET amount = 0",
        "UPDATE quote_events SET kind = 'draft'",
        "DELETE FROM quote_events",
        "UPDATE quote_revisions SET net = 0",
        "UPDATE quote_options SET net = 0",
        "UPDATE quotes SET state = 'accepted'",
        "UPDATE quotes SET offered_revision = 1",
        "UPDATE price_items SET price = 0",
        "CREATE TABLE jobs.mine (id int)",
        "COPY (SELECT 1) TO PROGRAM 'true'",
    ],
)
def test_the_service_cannot(statement: str, connection: Connection) -> None:
    with pytest.raises(ProgrammingError, match=r"permission denied|must be owner"), connection.begin_nested():
        connection.execute(text(statement))


def test_a_privileged_login_stays_under_the_role(connection: Connection) -> None:
    connection.execute(text("RESET ROLE"))
    assert connection.scalar(text("SELECT current_user")) == "office_app"


@pytest.mark.parametrize("role", ["office_owner", "office_app", "office_batch"])
def test_roles_have_no_privileges_of_their_own(role: str, connection: Connection) -> None:
    flags = "SELECT rolcanlogin, rolsuper, rolbypassrls, rolcreaterole FROM pg_roles WHERE rolname = :role"
    assert tuple(connection.execute(text(flags), {"role": role}).one()) == (False, False, False, False)


def test_a_key_is_found_by_possession_only(connection: Connection, session: OfficeSession) -> None:
    row = keys.add_key(session, "any string at all", "pepper", "Office program", ["quotes"])
    session.commit()
    with open_session(connection, join_transaction_mode="create_savepoint") as stranger:
        assert keys.key_in_force(stranger, "another string", "pepper") is None
        assert stranger.scalars(select(ApiKey)).all() == []
        assert keys.key_in_force(stranger, "any string at all", "other pepper") is None
        found = keys.key_in_force(stranger, "any string at all", "pepper")
        assert found is not None
        assert (found.id, found.org_id) == (row.id, UUID(session.info["app.org"]))
        assert stranger.info["app.org"] == session.info["app.org"]


@pytest.mark.parametrize("column", ["revoked_at", "expires_at"])
def test_a_key_that_is_over_is_refused(column: str, connection: Connection, session: OfficeSession) -> None:
    row = keys.add_key(session, "a key", "pepper", "Office program", ["quotes"])
    setattr(row, column, func.now())
    session.commit()
    with open_session(connection, join_transaction_mode="create_savepoint") as stranger:
        assert keys.key_in_force(stranger, "a key", "pepper") is None


def test_the_key_itself_is_not_stored(session: OfficeSession) -> None:
    row = keys.add_key(session, "a-secret-key-of-some-length", "pepper", "Office program", [])
    stored = session.scalar(text("SELECT api_keys::text FROM api_keys WHERE id = :id"), {"id": row.id})
    assert "a-secret-key-of-some-length" not in str(stored)


def test_use_is_noted_at_most_once_a_minute(session: OfficeSession) -> None:
    row = keys.add_key(session, "a key", "pepper", "Office program", [])
    keys.note_use(session, row.id)
    session.refresh(row)
    first = row.last_used_at
    assert first is not None
    keys.note_use(session, row.id)
    session.refresh(row)
    assert row.last_used_at == first


def test_binding_again_changes_the_running_transaction(open_org: OPEN) -> None:
    ours, theirs = open_org(), open_org()
    SupplierFactory(session=theirs)
    theirs.commit()
    bind_org(ours, UUID(theirs.info["app.org"]))
    assert ours.scalar(select(func.count()).select_from(Supplier)) == 1
