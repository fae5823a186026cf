"""From what happened to a quote to the message: with its transaction, at least once, until it arrives."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from ipaddress import ip_network
from typing import Any
from uuid import UUID

import pytest
from jsonschema_rs import Draft202012Validator
from sqlalchemy import Engine, func, select, text
from sqlalchemy.exc import OperationalError

from service.jobs.worker import run_worker
from service.quoting.quotes.expire import expire_of
from service.quoting.repricing.finish import end
from service.quoting.webhooks import deliver, keep
from service.quoting.webhooks.deliver import Post, attempt, wait_after
from service.quoting.webhooks.sealing import seal
from service.quoting.webhooks.sending import Outcome, Sender
from service.quoting.webhooks.signing import new_secret
from service.quoting.webhooks.values import VALUES
from service.settings import load_settings
from service.store import quotes, rows
from service.store import webhooks as store
from service.store.audit import Asked, entries
from service.store.engine import make_engine
from service.store.ids import new_id
from service.store.life import Kind
from service.store.models import Quote, Webhook, WebhookDelivery, WebhookEvent
from service.store.quotes import Happening
from service.store.session import OfficeSession, open_session, org_of, transaction
from tests import factories
from tests.api.conformance import spec
from tests.webhooks.receiver import Receiver, signed_by

HERE = ip_network("127.0.0.1/32")
PEPPER = "a pepper for tests only"
SECRET = new_secret()
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
ALL_EVENTS = list(store.EVENTS)


@dataclass
class Clock:
    at: datetime = NOW

    def __call__(self) -> datetime:
        return self.at


@dataclass
class Office:
    """An organisation with one webhook at the receiver and the means to deliver to it."""

    engine: Engine
    org_id: UUID
    post: Post
    clock: Clock
    webhook_id: UUID = field(default_factory=new_id)

    def session(self) -> Any:
        return transaction(self.engine, self.org_id)

    def happen(self, *kinds: Kind, scope: dict[str, Any] | None = None) -> UUID:
        with self.session() as session:
            row = factories.QuoteRevisionFactory(session=session)
            quote = rows.find(session, Quote, row.quote_id)
            assert quote is not None
            for kind in kinds:
                last_day = date(2026, 3, 31) if kind == "issued" else None
                quotes.record(
                    session,
                    quote,
                    1,
                    kind,
                    Happening(NOW, valid_until=last_day, by="A Person", reference="PO 1", scope=scope),
                )
            return quote.id

    def deliveries(self) -> list[WebhookDelivery]:
        with self.session() as session:
            return list(reversed(store.deliveries(session, self.webhook_id, 200, None)))

    def deliver(self) -> list[WebhookDelivery]:
        """One attempt at each."""
        for delivery in self.deliveries():
            attempt(self.post, self.org_id, delivery.id)
        return self.deliveries()

    def webhook(self) -> Webhook:
        with self.session() as session:
            found = rows.find(session, Webhook, self.webhook_id)
            assert found is not None
            return found


@pytest.fixture
def office(live_engine: Engine, batch: Engine, org_id: UUID, receiver: Receiver) -> Office:
    clock = Clock()
    made = Office(live_engine, org_id, Post(batch, Sender(HERE, time_limit_s=5), PEPPER, clock), clock)
    with made.session() as session:
        sealed = seal(SECRET, PEPPER)
        factories.WebhookFactory(
            session=session, id=made.webhook_id, url=receiver.url, secret=sealed, events=ALL_EVENTS
        )
    return made


def check_message(told: dict[str, Any]) -> None:
    """Against what the published description says of this message."""
    described = spec()["webhooks"][told["type"]]["post"]["requestBody"]["content"]["application/json"]
    Draft202012Validator({**described["schema"], "components": spec()["components"]}).validate(told)


def waiting_jobs(engine: Engine) -> list[tuple[dict[str, str], datetime | None]]:
    query = text(
        "SELECT args, scheduled_at FROM jobs.procrastinate_jobs"
        " WHERE task_name = 'office:deliver_webhook' AND status = 'todo' ORDER BY id"
    )
    with engine.connect() as connection:
        return [(args, at) for args, at in connection.execute(query)]


def test_a_message_tells_figures_and_no_person_and_no_cost(office: Office, receiver: Receiver) -> None:
    quote_id = office.happen("issued")
    (delivery,) = office.deliver()
    assert (delivery.state, delivery.attempts, delivery.last_status) == ("delivered", 1, 204)
    ((headers, body),) = receiver.came
    assert signed_by(SECRET, headers, body)
    assert headers["webhook-id"] == str(delivery.event_id)
    assert headers["webhook-timestamp"] == str(int(NOW.timestamp()))
    told = json.loads(body)
    check_message(told)
    number = told["data"].pop("number")
    assert number.startswith("Q-2026-")
    assert told == {
        "type": "quote.issued",
        "timestamp": "2026-03-02T12:00:00+00:00",
        "data": {
            "id": str(quote_id),
            "revision": 1,
            "state": "issued",
            "currency": "USD",
            "totals": {"net": "100.00", "tax": "8.25", "gross": "108.25"},
            "valid_until": "2026-03-31",
        },
    }


def test_an_acceptance_tells_the_figures_and_scope_of_what_was_taken(
    office: Office, receiver: Receiver
) -> None:
    money = {"net": "40", "tax": "3.3", "gross": "43.3"}
    for kept, scope in (
        ({"whole": False, "rooms": ["Bath"], "lines": []}, {"whole": False, "rooms": ["Bath"]}),
        ({"whole": True, "options": ["Small"]}, {"whole": True, "options": ["Small"]}),
    ):
        office.happen("issued", "accepted", scope={**kept, **money})
        office.deliver()
        told = receiver.bodies[-1]
        check_message(told)
        assert told["type"] == "quote.accepted"
        assert told["data"]["totals"] == {"net": "40.00", "tax": "3.30", "gross": "43.30"}
        assert told["data"]["scope"] == scope


def test_each_step_is_told_under_an_id_of_its_own(office: Office, receiver: Receiver) -> None:
    for last in ("accepted", "declined", "withdrawn"):
        office.happen("issued", last)
    office.deliver()
    assert [body["type"].partition(".")[2] for body in receiver.bodies] == [
        "issued",
        "accepted",
        "issued",
        "declined",
        "issued",
        "withdrawn",
    ]
    assert len(set(receiver.ids)) == 6


def test_expiry_is_told_by_the_job_that_finds_it(office: Office, batch: Engine, receiver: Receiver) -> None:
    office.happen("issued")
    expire_of(batch, office.org_id, datetime(2026, 5, 1, tzinfo=UTC))
    office.deliver()
    assert [body["type"] for body in receiver.bodies] == ["quote.issued", "quote.expired"]


def test_a_repricing_is_told_of_once_when_it_ends(office: Office, receiver: Receiver) -> None:
    counts = {"selected": 5, "visited": 4, "changed": 3, "revised": 2, "conflicts": 1}
    with office.session() as session:
        run = factories.RepricingFactory(session=session, mode="revise", **counts)
        end(session, run, "done")
        ended, run_id = run.ended_at, run.id
    with office.session() as session:
        end(session, factories.RepricingFactory(session=session), "cancelled")
        session.rollback()
    (delivery,) = office.deliver()
    (told,) = receiver.bodies
    check_message(told)
    assert signed_by(SECRET, *receiver.came[0])
    assert datetime.fromisoformat(told["timestamp"]) == ended
    assert (delivery.state, told["type"], told["data"]) == (
        "delivered",
        "repricing.ended",
        {
            "id": str(run_id),
            "state": "done",
            "mode": "revise",
            "counts": {**dict.fromkeys(store.COUNTS, 0), **counts},
            "currency": "USD",
            "exposure": "0.00",
            "link": f"/v1/repricings/{run_id}",
        },
    )


def test_a_failed_repricing_has_no_exposure_yet(office: Office, receiver: Receiver) -> None:
    with office.session() as session:
        end(session, factories.RepricingFactory(session=session), "failed")
    office.deliver()
    (told,) = receiver.bodies
    check_message(told)
    assert (told["data"]["state"], told["data"]["exposure"]) == ("failed", None)


def test_a_further_revision_is_told_and_the_first_draft_is_not(office: Office, receiver: Receiver) -> None:
    quote_id = office.happen()
    with office.session() as session:
        quote = quotes.lock_quote(session, quote_id)
        assert quote is not None
        session.execute(
            text(
                "INSERT INTO quote_revisions SELECT (jsonb_populate_record(r, '{\"revision\": 2}')).*"
                " FROM quote_revisions r WHERE quote_id = :id"
            ),
            {"id": quote_id},
        )
        quotes.record(session, quote, 2, "draft", Happening(NOW))
        quotes.record(session, quote, 1, "superseded", Happening(NOW))
    office.deliver()
    assert [(b["type"], b["data"]["revision"]) for b in receiver.bodies] == [("quote.revised", 2)]


def test_message_and_job_come_and_go_with_the_step(office: Office, live_engine: Engine) -> None:
    with open_session(live_engine, office.org_id) as session:
        row = factories.QuoteRevisionFactory(session=session)
        quote = rows.find(session, Quote, row.quote_id)
        assert quote is not None
        quotes.record(session, quote, 1, "withdrawn", Happening(NOW))
        assert session.scalar(select(func.count()).select_from(WebhookEvent)) == 1
        session.rollback()
    assert (office.deliveries(), waiting_jobs(live_engine)) == ([], [])
    office.happen("withdrawn")
    (delivery,) = office.deliveries()
    told = {"org_id": str(office.org_id), "delivery_id": str(delivery.id)}
    assert waiting_jobs(live_engine) == [(told, None)]


def test_only_who_asked_is_told(office: Office, live_engine: Engine) -> None:
    with office.session() as session:
        for change in ({"events": ["quote.expired"]}, {"state": "disabled"}):
            factories.WebhookFactory(session=session, **{"events": ALL_EVENTS, **change})
    with transaction(live_engine, new_id()) as session:
        factories.OrganisationFactory(session=session, org_id=org_of(session))
        factories.WebhookFactory(session=session, events=ALL_EVENTS)
    office.happen("withdrawn")
    with office.session() as session:
        told = session.scalars(select(WebhookDelivery.webhook_id)).all()
    assert told == [office.webhook_id]


def test_a_webhook_cannot_be_deleted_under_an_event_but_its_failures_are_noted(
    office: Office, live_engine: Engine
) -> None:
    with open_session(live_engine, office.org_id) as step:
        row = factories.QuoteRevisionFactory(session=step)
        quotes.record(
            step, step.get_one(Quote, (office.org_id, row.quote_id)), 1, "withdrawn", Happening(NOW)
        )
        with office.session() as other:
            other.execute(text("SET LOCAL lock_timeout = '100ms'"))
            webhook = store.lock_webhook(other, office.webhook_id)
            assert webhook is not None
            webhook.failing_since = NOW
            other.flush()
            with pytest.raises(OperationalError, match="lock timeout"), other.begin_nested():
                rows.remove(other, Webhook, office.webhook_id, None)
        step.commit()
    assert len(office.deliveries()) == 1
    assert office.webhook().failing_since == NOW


def test_a_failure_is_tried_again_later_with_the_same_message(
    office: Office, receiver: Receiver, live_engine: Engine
) -> None:
    office.happen("withdrawn")
    receiver.status = 503
    (delivery,) = office.deliver()
    assert (delivery.state, delivery.attempts, delivery.last_status) == ("waiting", 1, 503)
    assert delivery.next_attempt_at is not None
    assert 5 <= (delivery.next_attempt_at - NOW).total_seconds() <= 5.5
    assert [at for _, at in waiting_jobs(live_engine)] == [None, delivery.next_attempt_at]
    assert office.webhook().failing_since == NOW
    receiver.status = 200
    office.clock.at += timedelta(seconds=6)
    (delivery,) = office.deliver()
    assert (delivery.state, delivery.attempts, delivery.next_attempt_at) == ("delivered", 2, None)
    assert office.webhook().failing_since is None
    first, second = receiver.came
    assert first[1] == second[1]
    assert len(set(receiver.ids)) == 1
    assert first[0]["webhook-timestamp"] != second[0]["webhook-timestamp"], "signed anew"
    office.deliver()
    assert len(receiver.came) == 2, "what is delivered is not sent again"


def test_the_schedule_ends_after_some_days(office: Office, receiver: Receiver) -> None:
    waits = [wait_after(n) for n in range(1, 10)]
    total = sum((wait for wait in waits if wait), timedelta())
    assert wait_after(10) is None
    assert timedelta(days=3) < total < VALUES.disable_after, "given up before the webhook is disabled"
    office.happen("withdrawn")
    receiver.status = 500
    for _ in range(10):
        (delivery,) = office.deliver()
    assert (delivery.state, delivery.attempts, delivery.next_attempt_at) == ("failed", 10, None)
    assert office.webhook().state == "enabled"


def test_days_of_failures_disable_it_and_stop_what_waits(office: Office, receiver: Receiver) -> None:
    for _ in range(2):
        office.happen("withdrawn")
    receiver.status = 500
    office.deliver()
    office.clock.at += VALUES.disable_after
    attempt(office.post, office.org_id, office.deliveries()[0].id)
    webhook = office.webhook()
    assert (webhook.state, webhook.disabled_reason, webhook.version) == ("disabled", deliver.FAILING, 2)
    assert [delivery.state for delivery in office.deliveries()] == ["failed", "stopped"]
    came = len(receiver.came)
    office.happen("withdrawn")
    office.deliver()
    assert (len(receiver.came), len(office.deliveries())) == (came, 2)
    with office.session() as session:
        (noted,) = [e for e in entries(session, Asked(subject="webhook"), 9) if e.action == "disabled"]
    assert noted.new == {"state": "disabled", "disabled_reason": deliver.FAILING}


def test_gone_disables_at_once(office: Office, receiver: Receiver) -> None:
    office.happen("withdrawn")
    receiver.status = 410
    (delivery,) = office.deliver()
    assert (delivery.state, delivery.last_status) == ("failed", 410)
    assert (office.webhook().state, office.webhook().disabled_reason) == ("disabled", deliver.GONE)


def test_the_record_of_changes_holds_no_secret(office: Office) -> None:
    with office.session() as session:
        _, told = keep.rotate(session, office.webhook_id, None, PEPPER, NOW)
    with office.session() as session:
        noted = entries(session, Asked(subject="webhook"), 9)
    assert [e.action for e in noted] == ["changed", "created"]
    assert not any("secret" in str((e.old, e.new)) or told in str(e.new) for e in noted)


def test_both_secrets_sign_during_the_overlap(office: Office, receiver: Receiver) -> None:
    with office.session() as session:
        _, fresh = keep.rotate(session, office.webhook_id, None, PEPPER, NOW, 24)
    for hours, former_too in ((0, True), (23, True), (24, False)):
        office.clock.at = NOW + timedelta(hours=hours)
        office.happen("withdrawn")
        office.deliver()
        headers, body = receiver.came[-1]
        assert signed_by(fresh, headers, body)
        assert signed_by(SECRET, headers, body) == former_too
        assert len(headers["webhook-signature"].split(" ")) == 1 + former_too


def test_a_worker_that_dies_before_writing_down_sends_again_with_the_same_id(
    office: Office, receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Killed(BaseException): ...

    def die(*_: Any) -> None:
        raise Killed

    office.happen("withdrawn")
    with monkeypatch.context() as patched:
        patched.setattr(OfficeSession, "commit", die)
        patched.setattr("service.quoting.webhooks.deliver.record", die)
        with pytest.raises(Killed):
            office.deliver()
    (delivery,) = office.deliveries()
    assert (delivery.state, delivery.attempts) == ("waiting", 0)
    assert office.deliver()[0].state == "delivered"
    assert len(receiver.ids) == 2
    assert len(set(receiver.ids)) == 1


@pytest.fixture
def failing_commit(database_url: str, live_engine: Engine) -> Iterator[None]:
    """A database that refuses, at the commit, the first two outcomes that are written down."""
    owner = make_engine(database_url, "office_owner")
    with owner.begin() as connection:
        connection.execute(
            text("""
            CREATE SEQUENCE refusals; GRANT USAGE ON refusals TO office_batch;
            CREATE FUNCTION refuse_twice() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
                IF nextval('refusals') <= 2 THEN RAISE 'no room left'; END IF; RETURN NULL;
            END $$;
            CREATE CONSTRAINT TRIGGER refused AFTER UPDATE ON webhook_deliveries
                DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION refuse_twice();
            """)
        )
    yield
    with owner.begin() as connection:
        connection.execute(text("DROP TRIGGER refused ON webhook_deliveries; DROP FUNCTION refuse_twice"))
        connection.execute(text("DROP SEQUENCE refusals"))
    owner.dispose()


def test_a_commit_that_fails_leaves_the_job_to_be_taken_again(
    office: Office, receiver: Receiver, failing_commit: None, database_url: str, live_engine: Engine
) -> None:
    settings = replace(
        load_settings({"WEBHOOK_TEST_NETWORK": "127.0.0.1/32", "KEY_PEPPER": PEPPER}),
        database_url=database_url,
    )
    office.happen("withdrawn")
    for sent in (1, 2, 3):
        run_worker(settings, until_idle=True)
        assert len(receiver.ids) == sent
        with live_engine.begin() as connection:
            connection.execute(text("UPDATE jobs.procrastinate_jobs SET scheduled_at = NULL"))
    (delivery,) = office.deliveries()
    assert (delivery.state, delivery.attempts) == ("delivered", 1)
    assert len(set(receiver.ids)) == 1
    assert waiting_jobs(live_engine) == []


def test_a_slow_older_attempt_does_not_undo_a_delivery(office: Office) -> None:
    office.happen("withdrawn")
    (delivery,) = office.deliver()
    with office.session() as session:
        deliver.record(session, delivery.id, Outcome(500), NOW)
    assert office.deliveries()[0].state == "delivered"


def test_a_webhook_deleted_on_the_way_is_forgotten(office: Office, receiver: Receiver) -> None:
    office.happen("withdrawn")
    (delivery,) = office.deliveries()
    with office.session() as session:
        assert rows.remove(session, Webhook, office.webhook_id, None)
    attempt(office.post, office.org_id, delivery.id)
    with office.session() as session:
        deliver.record(session, delivery.id, Outcome(200), NOW)
    assert receiver.came == []


def test_a_secret_under_another_pepper_is_told_and_nothing_sent(office: Office, receiver: Receiver) -> None:
    office.happen("withdrawn")
    attempt(replace(office.post, pepper="another"), office.org_id, office.deliveries()[0].id)
    (delivery,) = office.deliveries()
    assert (delivery.state, receiver.came) == ("waiting", [])
    assert "rotate it" in str(delivery.last_error)


def test_events_of_a_month_ago_are_forgotten_with_their_deliveries(office: Office, batch: Engine) -> None:
    with office.session() as session:
        webhook = rows.find(session, Webhook, office.webhook_id)
        for days in (29, 31, 400):
            old = factories.WebhookEventFactory(
                session=session, created_at=datetime.now(UTC) - timedelta(days=days)
            )
            factories.WebhookDeliveryFactory(session=session, webhook=webhook, event=old)
    with transaction(batch) as session:
        assert store.purge_old(session) == 2
    assert len(office.deliveries()) == 1
    with transaction(office.engine) as nobody:
        assert nobody.scalar(select(func.count()).select_from(WebhookEvent)) == 0
