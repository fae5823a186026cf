"""One attempt to deliver, and what follows from it.

Nothing is locked while the message is on its way. A worker that dies between sending and writing down leaves
the delivery waiting and its job to be taken again, so the message may come twice, with the same id.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from service.quoting.webhooks.sealing import Unreadable, unseal
from service.quoting.webhooks.sending import Outcome, Sender
from service.quoting.webhooks.signing import signed_headers
from service.quoting.webhooks.values import VALUES
from service.store import rows
from service.store import webhooks as store
from service.store.models import Webhook, WebhookDelivery, WebhookEvent
from service.store.session import transaction
from service.telemetry import trace

GONE = "The receiver answered 410 Gone."
FAILING = f"Nothing was taken for {VALUES.disable_after.days} days."


def utc_now() -> datetime:
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class Post:
    """What delivering works with."""

    engine: Engine
    sender: Sender
    pepper: str
    now: Callable[[], datetime] = utc_now


@dataclass(frozen=True, slots=True)
class Message:
    """What is sent where; the secrets are still sealed."""

    url: str
    id: str
    body: bytes
    sealed: tuple[str, ...]


def attempt(post: Post, org_id: UUID, delivery_id: UUID) -> None:
    """Send what waits and write down how it went; nothing where it waits no more."""
    with transaction(post.engine, org_id) as session:
        message = waiting_message(session, delivery_id, post.now())
    if message is None:
        return
    outcome = _sent(post, message)
    with transaction(post.engine, org_id) as session:
        record(session, delivery_id, outcome, post.now())


def waiting_message(session: Session, delivery_id: UUID, now: datetime) -> Message | None:
    """The message of a delivery that waits for an enabled webhook."""
    delivery = rows.find(session, WebhookDelivery, delivery_id)
    if delivery is None or delivery.state != "waiting":
        return None
    webhook = rows.find(session, Webhook, delivery.webhook_id)
    event = rows.find(session, WebhookEvent, delivery.event_id)
    if webhook is None or event is None or webhook.state != "enabled":
        return None
    return Message(webhook.url, str(event.id), event.body.encode(), _sealed(webhook, now))


def _sealed(webhook: Webhook, now: datetime) -> tuple[str, ...]:
    """The secrets that sign now: the present one, and the former while both are good."""
    former, until = webhook.former_secret, webhook.former_until
    both = former is not None and until is not None and now < until
    return (webhook.secret, former) if both and former else (webhook.secret,)


def _sent(post: Post, message: Message) -> Outcome:
    try:
        secrets = [unseal(sealed, post.pepper) for sealed in message.sealed]
    except Unreadable as fault:
        return Outcome(None, str(fault))
    headers = signed_headers(secrets, message.id, post.now(), message.body)
    return post.sender.send(message.url, {**headers, **trace.headers()}, message.body)


def record(session: Session, delivery_id: UUID, outcome: Outcome, now: datetime) -> None:
    """Write down an outcome: delivered, to be tried again, or given up."""
    found = store.lock_delivery(session, delivery_id)
    if found is None:
        return
    webhook, delivery = found
    delivery.attempts += 1
    delivery.last_attempt_at, delivery.last_status, delivery.last_error = now, outcome.status, outcome.error
    if outcome.delivered:
        webhook.failing_since = delivery.next_attempt_at = None
        delivery.state = "delivered"
    else:
        webhook.failing_since = webhook.failing_since or now
        _failed(session, webhook, delivery, outcome, now)
    session.flush()


def _failed(
    session: Session, webhook: Webhook, delivery: WebhookDelivery, outcome: Outcome, now: datetime
) -> None:
    if delivery.state != "waiting":
        return  # another attempt was faster, or the office has disabled the webhook
    wait = wait_after(delivery.attempts)
    reason = _reason_to_disable(webhook, outcome, now)
    if reason or wait is None:
        delivery.state, delivery.next_attempt_at = "failed", None
        session.flush()
    elif store.send_at(session, delivery, now + wait):
        delivery.next_attempt_at = now + wait
    if reason:
        store.disable(session, webhook, reason)


def _reason_to_disable(webhook: Webhook, outcome: Outcome, now: datetime) -> str | None:
    if outcome.gone:
        return GONE
    since = webhook.failing_since or now
    return FAILING if now - since >= VALUES.disable_after else None


def wait_after(attempts: int) -> timedelta | None:
    """How long to wait after so many failed attempts; None where that was the last."""
    if attempts > len(VALUES.retry_after_s):
        return None
    seconds = VALUES.retry_after_s[attempts - 1]
    return timedelta(seconds=seconds * (1 + VALUES.jitter * random.random()))  # noqa: S311
