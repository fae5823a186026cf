"""Webhooks: other programs told of what happens to quotes and that a repricing ended."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any
from uuid import UUID

from flask import Response

from service.api import examples
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import now, parts, session
from service.api.framework.pages import Page, PageQuery, paged
from service.api.framework.replies import nothing, reply
from service.api.framework.routes import Routes
from service.api.schemas.catalogue import page_schema
from service.api.schemas.webhooks import (
    DeliveryAnswer,
    NewWebhookAnswer,
    RotationSchema,
    WebhookAnswer,
    WebhookSchema,
)
from service.quoting import catalogue
from service.quoting.webhooks import keep
from service.quoting.webhooks.sending import Sender
from service.store.models import Webhook

Answer = tuple[Any, Mapping[str, str]]
routes = Routes("webhooks", __name__, url_prefix="/v1/webhooks", description="Programs told of events")


def _sender() -> Sender:
    return Sender(parts().settings.webhook_test_network)


def _with_secret(row: Webhook, secret: str, status: int, headers: Mapping[str, str]) -> Response:
    return reply(WebhookAnswer().dump(row) | {"secret": secret}, status, {**headers, **tagged(row.version)})


def _told(delivery: Any, event: str) -> dict[str, Any]:
    shown = ("id", "created_at", "event_id", "state", "attempts", "last_attempt_at", "last_status")
    more = ("last_error", "next_attempt_at")
    return {name: getattr(delivery, name) for name in (*shown, *more)} | {"event": event}


@routes.operation(
    "GET",
    "",
    "List webhooks",
    scope="admin",
    query=PageQuery,
    answer=page_schema(WebhookAnswer),
    headers=("Link",),
)
def list_webhooks(query: dict[str, Any]) -> tuple[Page, Mapping[str, str]]:
    """Newest first, the disabled ones too."""
    page = paged(query, partial(catalogue.listing, session(), keep.WEBHOOKS))
    return page, page.headers


@routes.operation(
    "POST",
    "",
    "Add a webhook",
    scope="admin",
    body=WebhookSchema,
    answer=NewWebhookAnswer,
    status=201,
    example=examples.WEBHOOK,
    stores=True,
    secret=True,
    headers=("Location", "ETag"),
)
def add_webhook(body: dict[str, Any]) -> Response:
    """No other answer holds the secret. For an Idempotency-Key it is kept sealed, and comes again whole.

    Messages are POSTs signed as Standard Webhooks 1.0 says (webhook-id, webhook-timestamp, webhook-signature)
    of {type, timestamp, data}. Any 2xx within 15 s is a delivery; all else is tried again over three days,
    redirects are not followed. A message may come more than once, with the same webhook-id, and messages may
    come in another order than things happened: read the quote where that matters. 410 disables the webhook,
    as do five days of failures; the record of changes tells of it.
    """
    row, secret = keep.add(session(), _sender(), parts().settings.key_pepper, body)
    return _with_secret(row, secret, 201, {"Location": f"/v1/webhooks/{row.id}"})


@routes.operation(
    "GET",
    "/<uuid:webhook_id>",
    "Read a webhook",
    scope="admin",
    answer=WebhookAnswer,
    headers=("ETag",),
    problems=(404,),
)
def get_webhook(webhook_id: UUID) -> Answer:
    """Without its secret."""
    row = catalogue.get(session(), keep.WEBHOOKS, webhook_id)
    return row, tagged(row.version)


@routes.operation(
    "PUT",
    "/<uuid:webhook_id>",
    "Replace a webhook",
    scope="admin",
    body=WebhookSchema,
    answer=WebhookAnswer,
    example=examples.WEBHOOK,
    changes=True,
    headers=("ETag",),
)
def replace_webhook(webhook_id: UUID, body: dict[str, Any]) -> Answer:
    """Its secret stays. Enabling one that was disabled forgets its failures; what was stopped stays so."""
    row = keep.replace(session(), _sender(), webhook_id, expected_versions(), body)
    return row, tagged(row.version)


@routes.operation("DELETE", "/<uuid:webhook_id>", "Delete a webhook", scope="admin", status=204, changes=True)
def delete_webhook(webhook_id: UUID) -> Response:
    """With its deliveries, those that wait too."""
    catalogue.remove(session(), keep.WEBHOOKS, webhook_id, expected_versions())
    return nothing()


@routes.operation(
    "POST",
    "/<uuid:webhook_id>/rotate",
    "Give a webhook a new secret",
    scope="admin",
    body=RotationSchema,
    answer=NewWebhookAnswer,
    example=examples.ROTATION,
    changes=True,
    stores=True,
    secret=True,
    headers=("ETag",),
)
def rotate_webhook(webhook_id: UUID, body: dict[str, Any]) -> Response:
    """Shown this once, and again for the same Idempotency-Key. For the overlap each message
    carries two signatures, the new secret's first."""
    row, secret = keep.rotate(
        session(), webhook_id, expected_versions(), parts().settings.key_pepper, now(), body["overlap_hours"]
    )
    return _with_secret(row, secret, 200, {})


@routes.operation(
    "POST",
    "/<uuid:webhook_id>/test",
    "Send a webhook a test message",
    scope="admin",
    answer=DeliveryAnswer,
    status=202,
    stores=True,
    problems=(404,),
)
def test_webhook(webhook_id: UUID) -> dict[str, Any]:
    """Of type webhook.test, whatever events were asked for; see deliveries for how it went."""
    delivery, event = keep.try_out(session(), webhook_id, now())
    return _told(delivery, event.type)


@routes.operation(
    "GET",
    "/<uuid:webhook_id>/deliveries",
    "List a webhook's deliveries",
    name="list_webhook_deliveries",
    scope="admin",
    query=PageQuery,
    answer=page_schema(DeliveryAnswer),
    headers=("Link",),
    problems=(404,),
)
def list_deliveries(query: dict[str, Any], webhook_id: UUID) -> tuple[Page, Mapping[str, str]]:
    """Newest first, of the last 30 days."""
    page = paged(query, partial(keep.deliveries, session(), webhook_id))
    types = keep.types_of(session(), page.items)
    return Page([_told(row, types[row.event_id]) for row in page.items], page.next), page.headers


@routes.operation(
    "POST",
    "/<uuid:webhook_id>/deliveries/<uuid:delivery_id>/retry",
    "Deliver once more",
    scope="admin",
    answer=DeliveryAnswer,
    status=202,
    stores=True,
    problems=(404,),
)
def retry_delivery(webhook_id: UUID, delivery_id: UUID) -> dict[str, Any]:
    """At once, also what was delivered before: the message keeps its webhook-id."""
    delivery, event = keep.retry(session(), webhook_id, delivery_id, now())
    return _told(delivery, event.type)
