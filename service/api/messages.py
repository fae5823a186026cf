"""The messages to webhooks as the published description tells them (OpenAPI 3.1, webhooks)."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema

from service.api.schemas.webhooks import QuoteMessageSchema, RepricingMessageSchema
from service.store.webhooks import EVENTS, REPRICED

MESSAGES: dict[str, type[Schema]] = {
    "QuoteMessage": QuoteMessageSchema,
    "RepricingMessage": RepricingMessageSchema,
}
"""The schemas of the bodies, by name."""
HEADERS = {
    "webhook-id": "the same whenever this message is sent, so that doubles can be dropped",
    "webhook-timestamp": "seconds since 1970 at which this attempt was signed; refuse what is minutes old",
    "webhook-signature": "v1, and in base64 the HMAC-SHA-256 of id, timestamp and body joined by full stops;"
    " several with blanks between them while a secret is being changed",
}
ANSWERS = {
    "2XX": {"description": "Taken; the body is not read."},
    "410": {"description": "No more, please: the webhook is disabled."},
    "default": {"description": "Sent again later, over some days. Redirects are not followed."},
}


def messages() -> dict[str, Any]:
    """One entry for each type of message."""
    return {event: {"post": _message(event)} for event in EVENTS}


def _message(event: str) -> dict[str, Any]:
    schema = "RepricingMessage" if event == REPRICED else "QuoteMessage"
    body = {"application/json": {"schema": {"$ref": f"#/components/schemas/{schema}"}}}
    return {
        "summary": f"Tells of {event}",
        "description": "At least once, in no promised order. See POST /v1/webhooks.",
        "tags": ["webhooks"],
        "parameters": [_header(name, meaning) for name, meaning in HEADERS.items()],
        "requestBody": {"required": True, "content": body},
        "responses": ANSWERS,
    }


def _header(name: str, meaning: str) -> dict[str, Any]:
    return {
        "in": "header",
        "name": name,
        "required": True,
        "schema": {"type": "string"},
        "description": meaning,
    }
