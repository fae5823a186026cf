"""Webhooks in the database: who asked for what, and events on their way with the work they tell of."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import delete, func, select, update
from sqlalchemy.orm import Session

from service.store import rows
from service.store.models import (
    Organisation,
    Quote,
    QuoteRevision,
    Repricing,
    Webhook,
    WebhookDelivery,
    WebhookEvent,
)
from service.store.queue import DELIVER_WEBHOOK, enqueue
from service.store.session import org_of

OF_QUOTES = ("issued", "accepted", "declined", "withdrawn", "expired", "revised")
QUOTE_EVENTS = tuple(f"quote.{kind}" for kind in OF_QUOTES)
REPRICED = "repricing.ended"
EVENTS = (*QUOTE_EVENTS, REPRICED)
"""What a webhook can ask for."""
COUNTS = ("selected", "visited", "changed", "revised", "within_limits", "conflicts", "unpriceable")
TEST_EVENT = "webhook.test"
KEPT_DAYS = 30


def announce_quote(
    session: Session,
    quote: Quote,
    revision: int,
    kind: str,
    at: datetime,
    accepted: Mapping[str, Any] | None = None,
) -> None:
    """Tell whoever asked for it what happened to a quote; the caller's commit sends it on its way.

    `accepted` is what was kept of the acceptance: of a part or an option its own figures are told.
    """
    event = f"quote.{'revised' if kind == 'draft' and revision > 1 else kind}"
    wanted = _subscribers(session, event) if event in QUOTE_EVENTS else ()
    if not wanted:
        return
    told = session.get_one(QuoteRevision, (org_of(session), quote.id, revision))
    announce(session, wanted, event, at, _figures(quote, told) | _accepted(accepted or {}))


def announce_repricing(session: Session, run: Repricing) -> None:
    """Tell whoever asked for it that a run ended: once for all of its quotes."""
    wanted = _subscribers(session, REPRICED)
    if wanted and run.ended_at is not None:
        announce(session, wanted, REPRICED, run.ended_at, _outcome(session, run))


def announce(
    session: Session, webhook_ids: Sequence[UUID], event: str, at: datetime, data: Mapping[str, Any]
) -> list[WebhookDelivery]:
    """One event, and a delivery with its job for each of the webhooks."""
    body = {"type": event, "timestamp": at.isoformat(), "data": dict(data)}
    text = json.dumps(body, ensure_ascii=False, separators=(",", ":"))
    row = rows.add(session, WebhookEvent, type=event, body=text)
    made = [
        rows.add(session, WebhookDelivery, webhook_id=webhook, event_id=row.id, next_attempt_at=at)
        for webhook in webhook_ids
    ]
    for delivery in made:
        send_at(session, delivery)
    return made


def send_at(session: Session, delivery: WebhookDelivery, at: datetime | None = None) -> bool:
    """Defer an attempt; without a time it is due at once, beside any that waits for its time already."""
    args = {"org_id": str(org_of(session)), "delivery_id": str(delivery.id)}
    lock = None if at is None else f"webhook:{delivery.id}"
    return enqueue(session, DELIVER_WEBHOOK, args, queueing_lock=lock, at=at)


def _subscribers(session: Session, event: str) -> Sequence[UUID]:
    """Enabled webhooks that asked for it; they cannot be deleted before the transaction ends."""
    query = select(Webhook.id).where(
        Webhook.org_id == org_of(session), Webhook.state == "enabled", Webhook.events.contains([event])
    )
    return session.scalars(query.with_for_update(read=True, key_share=True)).all()


def _figures(quote: Quote, revision: QuoteRevision) -> dict[str, Any]:
    """What is told of a quote: neither costs nor whose it is."""
    totals = {name: _text(getattr(revision, name)) for name in ("net", "tax", "gross")}
    last_day = quote.valid_until
    return {
        "id": str(quote.id),
        "number": quote.number,
        "revision": revision.revision,
        "state": quote.state,
        "currency": revision.currency,
        "totals": totals,
        "valid_until": None if last_day is None else last_day.isoformat(),
    }


def _outcome(session: Session, run: Repricing) -> dict[str, Any]:
    """What is told of a run; of a failed one no exposure is known."""
    return {
        "id": str(run.id),
        "state": run.state,
        "mode": run.mode,
        "counts": {name: getattr(run, name) for name in COUNTS},
        "currency": session.get_one(Organisation, org_of(session)).currency,
        "exposure": _text(Decimal(run.summary["exposure"])) if run.summary else None,
        "link": f"/v1/repricings/{run.id}",
    }


def _accepted(kept: Mapping[str, Any]) -> dict[str, Any]:
    """The totals of what was accepted, and which part or option that is."""
    if not kept:
        return {}
    totals = {name: _text(Decimal(kept[name])) for name in ("net", "tax", "gross")}
    names = {name: list(kept[name]) for name in ("rooms", "options") if name in kept}
    return {"totals": totals, "scope": {"whole": kept["whole"], **names}}


def _text(amount: Decimal | None) -> str | None:
    """With two decimals, with more only where they say something."""
    if amount is None:
        return None
    shown = amount.quantize(Decimal("0.01"))
    return f"{shown if shown == amount else amount.normalize():f}"


def deliveries(
    session: Session, webhook_id: UUID, limit: int, after: rows.Cursor | None
) -> Sequence[WebhookDelivery]:
    """A webhook's deliveries, newest first."""
    return rows.page(session, WebhookDelivery, limit, after, WebhookDelivery.webhook_id == webhook_id)


def lock_delivery(session: Session, delivery_id: UUID) -> tuple[Webhook, WebhookDelivery] | None:
    """A delivery and before it its webhook, so that outcomes of one webhook are written one by one."""
    delivery = rows.find(session, WebhookDelivery, delivery_id)
    if delivery is None:
        return None
    webhook = lock_webhook(session, delivery.webhook_id)
    locked = rows.lock(session, WebhookDelivery, delivery_id)
    return None if webhook is None or locked is None else (webhook, locked)


def lock_webhook(session: Session, webhook_id: UUID) -> Webhook | None:
    """The webhook, nobody else's to change; events for it can be announced meanwhile."""
    return rows.lock(session, Webhook, webhook_id, key_share=True)


def disable(session: Session, webhook: Webhook, reason: str) -> None:
    """Send it nothing more, nor what waits for it."""
    rows.change(session, Webhook, webhook.id, None, state="disabled", disabled_reason=reason)
    stop_waiting(session, webhook.id)


def stop_waiting(session: Session, webhook_id: UUID) -> None:
    """What still waits for a webhook that was disabled is not sent."""
    session.execute(
        update(WebhookDelivery)
        .where(
            WebhookDelivery.org_id == org_of(session),
            WebhookDelivery.webhook_id == webhook_id,
            WebhookDelivery.state == "waiting",
        )
        .values(state="stopped", next_attempt_at=None)
    )


def purge_old(session: Session) -> int:
    """Delete the old events of every organisation with their deliveries (role office_batch)."""
    old = WebhookEvent.created_at < func.now() - func.make_interval(0, 0, 0, KEPT_DAYS)
    return len(session.execute(delete(WebhookEvent).where(old).returning(WebhookEvent.id)).all())
