"""API keys as sent and answered."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Shaped, Text, Whole, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.catalogue import Stored

SCOPES = ("quotes", "prices", "reprice", "ballpark", "admin")
ORIGIN = r"^https?://[a-z0-9.-]{1,253}(:[0-9]{1,5})?$"
"""A scheme, a host and maybe a port, as browsers send it (RFC 6454, 6.2)."""


class KeySchema(RequestSchema):
    name = Text(80, required=True)
    scopes = ma.fields.List(Word(*SCOPES), required=True, validate=ma.validate.Length(1, len(SCOPES)))
    expires_at = ma.fields.AwareDateTime(allow_none=True, load_default=None)
    origins = ma.fields.List(
        ma.fields.String(validate=Shaped(ORIGIN, error="Not an origin, such as https://example.com.")),
        load_default=list,
        validate=ma.validate.Length(max=20),
        metadata={"description": "web pages that may show the key: it is then for ballparks alone"},
    )

    requests_per_minute = Whole(
        1,
        1_000_000,
        allow_none=True,
        load_default=None,
        metadata={"description": "the key's own quota; null: what the service allows any key"},
    )

    @ma.validates_schema
    def _shown_ones_open_ballparks_only(self, data: dict[str, Any], **_: Any) -> None:
        if data["origins"] and data["scopes"] != ["ballpark"]:
            raise ma.ValidationError("A key for web pages has the scope ballpark alone.", "scopes")


class KeyAnswer(KeySchema, Stored):
    class Meta(AnswerSchema.Meta): ...

    publishable = ma.fields.Boolean(metadata={"description": "whether web pages may show it"})
    prefix = ma.fields.String(metadata={"description": "the key's beginning, to know it by"})
    revoked_at = ma.fields.AwareDateTime(allow_none=True)
    last_used_at = ma.fields.AwareDateTime(allow_none=True)


class KeyRotationSchema(RequestSchema):
    may_be_left_out = True

    overlap_hours = Whole(
        0, 720, load_default=24, metadata={"description": "for which the former key works too"}
    )


class NewKeyAnswer(KeyAnswer):
    """The one answer that holds the key itself; only its hash is kept with it."""

    key = ma.fields.String(required=True)
