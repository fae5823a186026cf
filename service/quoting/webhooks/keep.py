"""Webhooks as an office keeps them: made, changed, given a new secret, tried out; their deliveries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting import catalogue
from service.quoting.catalogue import Kind, UnknownReference, Versions
from service.quoting.errors import Conflict, NotFound
from service.quoting.webhooks.address import Refused, public_addresses, target_of
from service.quoting.webhooks.sealing import seal
from service.quoting.webhooks.sending import Sender
from service.quoting.webhooks.signing import new_secret
from service.quoting.webhooks.values import VALUES
from service.store import rows
from service.store import webhooks as store
from service.store.models import Webhook, WebhookDelivery, WebhookEvent

WEBHOOKS = Kind("webhook", Webhook)
BY_THE_OFFICE = "The office has disabled it."
Told = tuple[WebhookDelivery, WebhookEvent]


def add(session: Session, sender: Sender, pepper: str, values: Mapping[str, Any]) -> tuple[Webhook, str]:
    """A new webhook and its secret, which is told this once."""
    check_url(sender, values["url"])
    secret = new_secret()
    row = catalogue.add(session, WEBHOOKS, {**values, **_state(values), "secret": seal(secret, pepper)})
    return row, secret


def replace(
    session: Session, sender: Sender, webhook_id: UUID, expected: Versions, values: Mapping[str, Any]
) -> Webhook:
    """Its address, events and state anew; enabling it forgets its failures, disabling stops what waits."""
    check_url(sender, values["url"])
    store.lock_webhook(session, webhook_id)
    row = catalogue.replace(session, WEBHOOKS, webhook_id, expected, {**values, **_state(values)})
    if row.state == "disabled":
        store.stop_waiting(session, webhook_id)
    return row


def _state(values: Mapping[str, Any]) -> dict[str, Any]:
    if values["state"] == "enabled":
        return {"disabled_reason": None, "failing_since": None}
    return {"disabled_reason": BY_THE_OFFICE}


def check_url(sender: Sender, url: str) -> None:
    """Refuse what no message would be sent to; a name that has no address now may have one later."""
    try:
        target = target_of(url, sender.test_network)
        public_addresses(target, sender.resolve, sender.test_network)
    except Refused as refused:
        raise UnknownReference("/url", str(refused)) from refused
    except (OSError, UnicodeError):
        return


def rotate(
    session: Session,
    webhook_id: UUID,
    expected: Versions,
    pepper: str,
    now: datetime,
    overlap_hours: int | None = None,
) -> tuple[Webhook, str]:
    """A new secret, told this once; the one before signs beside it for the overlap."""
    version = catalogue.at_version(session, WEBHOOKS, webhook_id, expected)
    former = catalogue.get(session, WEBHOOKS, webhook_id).secret
    hours = VALUES.overlap_hours if overlap_hours is None else overlap_hours
    secret = new_secret()
    changes = {
        "secret": seal(secret, pepper),
        "former_secret": former if hours else None,
        "former_until": now + timedelta(hours=hours) if hours else None,
        "rotated_at": now,
    }
    return catalogue.fresh(rows.change(session, Webhook, webhook_id, version, **changes)), secret


def try_out(session: Session, webhook_id: UUID, now: datetime) -> Told:
    """A message that tells of nothing, on its way to this webhook alone."""
    webhook = _enabled(session, webhook_id)
    (delivery,) = store.announce(session, [webhook.id], store.TEST_EVENT, now, {"webhook": str(webhook.id)})
    return delivery, _event(session, delivery)


def deliveries(
    session: Session, webhook_id: UUID, limit: int, after: rows.Cursor | None
) -> Sequence[WebhookDelivery]:
    """A webhook's deliveries, newest first."""
    catalogue.get(session, WEBHOOKS, webhook_id)
    return store.deliveries(session, webhook_id, limit, after)


def types_of(session: Session, found: Sequence[WebhookDelivery]) -> dict[UUID, str]:
    """The type of each delivery's event, by the event's id."""
    events = rows.by_ids(session, WebhookEvent, {delivery.event_id for delivery in found})
    return {event_id: event.type for event_id, event in events.items()}


def retry(session: Session, webhook_id: UUID, delivery_id: UUID, now: datetime) -> Told:
    """Send it once more, now, whatever became of it; the id of its message stays the same."""
    webhook = _enabled(session, webhook_id)
    found = store.lock_delivery(session, delivery_id)
    if found is None or found[0].id != webhook.id:
        raise NotFound("delivery of this webhook")
    delivery = found[1]
    delivery.state, delivery.next_attempt_at = "waiting", now
    session.flush()
    store.send_at(session, delivery)
    return delivery, _event(session, delivery)


def _enabled(session: Session, webhook_id: UUID) -> Webhook:
    webhook = catalogue.get(session, WEBHOOKS, webhook_id)
    if webhook.state != "enabled":
        raise Conflict("the webhook is disabled")
    return webhook


def _event(session: Session, delivery: WebhookDelivery) -> WebhookEvent:
    event = rows.find(session, WebhookEvent, delivery.event_id)
    if event is None:
        raise NotFound("event")
    return event
