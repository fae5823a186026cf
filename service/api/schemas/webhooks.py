"""Webhooks as sent and answered."""

from __future__ import annotations

import marshmallow as ma

from service.api.framework.fields import Money, Text, Whole, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.catalogue import Stored
from service.api.schemas.repricing import RepricedCountsSchema
from service.store.life import QUOTE_STATES
from service.store.webhooks import EVENTS, QUOTE_EVENTS, REPRICED, TEST_EVENT


class WebhookSchema(RequestSchema):
    """Where to tell of what. Private and other closed networks are refused, however they are written."""

    url = Text(2000, required=True, metadata={"description": "https, port 443 or 8443, a public host"})
    events = ma.fields.List(Word(*EVENTS), required=True, validate=ma.validate.Length(1, len(EVENTS)))
    description = ma.fields.String(load_default="", validate=ma.validate.Length(max=200))
    state = Word("enabled", "disabled", load_default="enabled")

    @ma.post_load
    def _once_each(self, data: dict[str, object], **_: object) -> dict[str, object]:
        return data | {"events": sorted(set(data["events"]))}  # type: ignore[call-overload]


class WebhookAnswer(WebhookSchema, Stored):
    class Meta(AnswerSchema.Meta): ...

    disabled_reason = ma.fields.String(required=True, allow_none=True)
    failing_since = ma.fields.AwareDateTime(
        required=True,
        allow_none=True,
        metadata={"description": "the first failure since the last success; after five days it is disabled"},
    )
    rotated_at = ma.fields.AwareDateTime(required=True, allow_none=True)
    former_secret_until = ma.fields.AwareDateTime(
        required=True,
        allow_none=True,
        attribute="former_until",
        metadata={"description": "until then messages carry a signature by the former secret too"},
    )


class NewWebhookAnswer(WebhookAnswer):
    """The one answer that holds the secret."""

    secret = ma.fields.String(required=True, metadata={"description": "whsec_ and 32 bytes in base64"})


class MessageTotalsSchema(AnswerSchema):
    """What the customer pays; null where the revision has no price."""

    net, tax, gross = (Money(required=True, allow_none=True) for _ in range(3))


class MessageScopeSchema(AnswerSchema):
    """How much of the offer was accepted."""

    whole = ma.fields.Boolean(required=True, metadata={"description": "all of its rooms"})
    rooms = ma.fields.List(ma.fields.String(), metadata={"description": "those that were taken of it"})
    options = ma.fields.List(
        ma.fields.String(), metadata={"description": "the option that was taken in place of the offer"}
    )


class MessageDataSchema(AnswerSchema):
    """The quote as it was then: neither its customer nor its costs."""

    id = ma.fields.UUID(required=True)
    number = ma.fields.String(required=True)
    revision = ma.fields.Integer(required=True)
    state = Word(*QUOTE_STATES, required=True)
    currency = ma.fields.String(required=True)
    totals = ma.fields.Nested(MessageTotalsSchema, required=True)
    valid_until = ma.fields.Date(required=True, allow_none=True)
    scope = ma.fields.Nested(
        MessageScopeSchema, metadata={"description": "of an acceptance, whose totals are those of its scope"}
    )


class MessageSchema(AnswerSchema):
    """What is in the body of every message."""

    timestamp = ma.fields.AwareDateTime(
        required=True, metadata={"description": "when it happened; webhook-timestamp is when it was sent"}
    )


class QuoteMessageSchema(MessageSchema):
    """The body of a message on a quote."""

    type = Word(*QUOTE_EVENTS, required=True)
    data = ma.fields.Nested(MessageDataSchema, required=True)


class EndedRunSchema(AnswerSchema):
    """A repricing when it ended; a failed one may be resumed and then ends again."""

    id = ma.fields.UUID(required=True)
    state = Word("done", "cancelled", "failed", required=True)
    mode = Word("preview", "revise", required=True)
    counts = ma.fields.Nested(RepricedCountsSchema, required=True)
    currency = ma.fields.String(required=True)
    exposure = Money(
        required=True,
        allow_none=True,
        metadata={
            "description": "by how much offers and accepted work cost the office more; null of a failed run"
        },
    )
    link = ma.fields.String(required=True, metadata={"description": "where to read it"})


class RepricingMessageSchema(MessageSchema):
    """The body of a message on a repricing: one for a run, however many quotes it looked at."""

    type = Word(REPRICED, required=True)
    data = ma.fields.Nested(EndedRunSchema, required=True)


class RotationSchema(RequestSchema):
    may_be_left_out = True

    overlap_hours = Whole(
        0, 168, load_default=None, metadata={"description": "for which the former secret signs too, else 24"}
    )


class DeliveryAnswer(Stored):
    """One event on its way to one webhook."""

    event_id = ma.fields.UUID(required=True, metadata={"description": "the webhook-id header"})
    event = Word(*EVENTS, TEST_EVENT, required=True)
    state = Word(
        "waiting",
        "delivered",
        "failed",
        "stopped",
        required=True,
        metadata={"description": "stopped: the webhook was disabled before it was delivered"},
    )
    attempts = ma.fields.Integer(required=True)
    last_attempt_at = ma.fields.AwareDateTime(required=True, allow_none=True)
    last_status = ma.fields.Integer(required=True, allow_none=True)
    last_error = ma.fields.String(required=True, allow_none=True)
    next_attempt_at = ma.fields.AwareDateTime(required=True, allow_none=True)
