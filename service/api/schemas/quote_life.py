"""What is sent to move a quote along its life, and the answers about its revisions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Money, Text, Whole, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.room_parts import NumberOrName
from service.store.life import KINDS

MOST_REVISIONS = 1_000_000


class IssueSchema(RequestSchema):
    revision = Whole(1, MOST_REVISIONS, metadata={"description": "without it the newest"})
    accept_assumptions = ma.fields.List(
        ma.fields.String(validate=ma.validate.Length(1, 2000)),
        load_default=list,
        validate=ma.validate.Length(max=200),
        metadata={"description": "each as a refusal of this operation words it"},
    )


class ScopeSchema(RequestSchema):
    """What of the offer is taken: rooms by name or by place from 0, or one option in place of the whole."""

    rooms = ma.fields.List(
        NumberOrName(metadata={"oneOf": [{"type": "integer"}, {"type": "string"}]}),
        validate=ma.validate.Length(1, 100),
    )
    options = ma.fields.List(Text(120), validate=ma.validate.Length(1, 20))

    @ma.validates_schema
    def _one(self, data: dict[str, Any], **_: Any) -> None:
        if len(data) != 1:
            raise ma.ValidationError(
                "Give rooms, or an option, which stands in place of all of them; not both.", "rooms"
            )


class AcceptSchema(RequestSchema):
    revision = Whole(1, MOST_REVISIONS, required=True, metadata={"description": "the one that was offered"})
    accepted_by = Text(required=True)
    accepted_at = ma.fields.AwareDateTime(
        default_timezone=None, metadata={"description": "without it now; not before the offer was made"}
    )
    reference = Text(required=True, metadata={"description": "the customer's, such as an order number"})
    scope = ma.fields.Nested(ScopeSchema, metadata={"description": "without it all of the offer"})


class EndSchema(RequestSchema):
    reason = Text(2000, required=True)
    revision = Whole(1, MOST_REVISIONS, metadata={"description": "without it the one that stands"})


class AcceptedLineSchema(AnswerSchema):
    position = ma.fields.Integer(metadata={"description": "of the line in the revision, from 1"})
    kind = ma.fields.String()
    description = ma.fields.String()
    share_percent = ma.fields.Float(metadata={"description": "of the line's price in the offer"})
    shared = ma.fields.Boolean(metadata={"description": "whether rooms that were left out need of it too"})
    price = Money(places=2, minimum=None)


class AcceptanceSchema(AnswerSchema):
    """What was accepted; of a part each line by the share that its rooms need alone."""

    accepted_by = ma.fields.String(allow_none=True, metadata={"description": "null once it was erased"})
    accepted_at = ma.fields.AwareDateTime()
    reference = ma.fields.String(allow_none=True, metadata={"description": "null once it was erased"})
    whole = ma.fields.Boolean(metadata={"description": "all of the offer, not some of its rooms"})
    rooms = ma.fields.List(ma.fields.String())
    options = ma.fields.List(
        ma.fields.String(), metadata={"description": "the option that was taken in place of the offer"}
    )
    net = Money(places=2, minimum=None)
    tax = Money(places=2, minimum=None)
    gross = Money(places=2, minimum=None)
    lines = ma.fields.List(ma.fields.Nested(AcceptedLineSchema))


def without_inner(scope: Mapping[str, Any]) -> dict[str, Any]:
    """What was taken, without the id under which its take-off is kept."""
    return {name: value for name, value in scope.items() if name != "takeoff_id"}


class ScopeField(ma.fields.Dict):
    """What of a revision was taken, with its figures."""

    def _serialize(self, value: Any, *args: Any, **kwargs: Any) -> Any:
        return None if value is None else without_inner(value)


class EventSchema(AnswerSchema):
    kind = Word(*KINDS)
    at = ma.fields.AwareDateTime()
    by = ma.fields.String(allow_none=True)
    reference = ma.fields.String(allow_none=True)
    note = ma.fields.String(allow_none=True)
    key_id = ma.fields.UUID(allow_none=True, metadata={"description": "the API key; null: the service"})
    scope = ScopeField(allow_none=True)


class RevisionHeadSchema(AnswerSchema):
    revision = ma.fields.Integer()
    state = Word(*KINDS)
    currency = ma.fields.String()
    net = Money(places=2, minimum=None, allow_none=True)
    tax = Money(places=2, minimum=None, allow_none=True)
    gross = Money(places=2, minimum=None, allow_none=True)
    price_date = ma.fields.Date()
    valid_until = ma.fields.Date()
    created_at = ma.fields.AwareDateTime()
    events = ma.fields.List(ma.fields.Nested(EventSchema))


class RevisionsSchema(AnswerSchema):
    items = ma.fields.List(ma.fields.Nested(RevisionHeadSchema), required=True)
