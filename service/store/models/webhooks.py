"""Webhooks: where an organisation wants to be told, what there was to tell, and how telling went."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlalchemy import Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from service.store.models.base import Base, Changeable, Identified, one_of, within_org


class Webhook(Identified, Changeable, Base):
    """An address that is told of events; its secrets are sealed (quoting/webhooks/sealing.py)."""

    __tablename__ = "webhooks"
    __table_args__ = (
        one_of("state", "enabled", "disabled"),
        Index(None, "org_id", "created_at", "id"),
    )

    url: Mapped[str]
    description: Mapped[str] = mapped_column(server_default="")
    events: Mapped[list[str]]
    state: Mapped[str] = mapped_column(server_default="enabled")
    disabled_reason: Mapped[str | None]
    secret: Mapped[str]
    former_secret: Mapped[str | None]
    former_until: Mapped[datetime | None]  # until then messages are signed with the former secret too
    rotated_at: Mapped[datetime | None]
    failing_since: Mapped[datetime | None]  # the first failure since the last success


class WebhookEvent(Identified, Base):
    """Something to tell: the body as it is sent, word for word, to whoever asked for it."""

    __tablename__ = "webhook_events"
    __table_args__ = (Index("webhook_events_created_at_idx", "created_at"),)

    type: Mapped[str]
    body: Mapped[str]


class WebhookDelivery(Identified, Base):
    """One event on its way to one webhook; `last_status` is the HTTP status of the last attempt's answer."""

    __tablename__ = "webhook_deliveries"
    __table_args__ = (
        within_org("webhook_id", "webhooks", ondelete="CASCADE"),
        within_org("event_id", "webhook_events", ondelete="CASCADE"),
        one_of("state", "waiting", "delivered", "failed", "stopped"),
        UniqueConstraint("org_id", "webhook_id", "event_id"),
        Index(None, "org_id", "webhook_id", "created_at", "id"),
        Index(None, "org_id", "event_id"),
    )

    webhook_id: Mapped[UUID]
    event_id: Mapped[UUID]
    state: Mapped[str] = mapped_column(server_default="waiting")
    attempts: Mapped[int] = mapped_column(server_default=text("0"))
    last_attempt_at: Mapped[datetime | None]
    last_status: Mapped[int | None]
    last_error: Mapped[str | None]
    next_attempt_at: Mapped[datetime | None]
