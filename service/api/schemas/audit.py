"""The record of changes as asked for and answered."""

from __future__ import annotations

import marshmallow as ma

from service.api.framework.fields import Word
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema

SUBJECTS = (
    "supplier",
    "product",
    "customer",
    "price_list",
    "agreement",
    "labour_table",
    "labour_calibration",
    "terms",
    "tax",
    "exchange_rate",
    "organisation",
    "webhook",
)


class AuditQuery(PageQuery):
    subject = Word(*SUBJECTS)
    subject_id = ma.fields.UUID()
    key = ma.fields.UUID(metadata={"description": "the id of the API key that the change was made with"})
    since = ma.fields.AwareDateTime(metadata={"description": "from this moment on"})
    until = ma.fields.AwareDateTime(metadata={"description": "before this moment"})


class AuditEntrySchema(AnswerSchema):
    """One change. Of a changed row only what differs is told, of a customer only the kind."""

    id = ma.fields.UUID(required=True)
    at = ma.fields.AwareDateTime(required=True, attribute="created_at")
    key = ma.fields.UUID(
        required=True,
        allow_none=True,
        attribute="key_id",
        metadata={"description": "null where no API key was used, as on the command line"},
    )
    action = ma.fields.String(
        required=True,
        metadata={
            "description": "created, changed, removed, archived, activated, withdrawn, accepted; of a price"
            " list's prices and a labour table's rates"
            " prices_written, prices_removed, prices_ended, rates_written, rates_removed"
        },
    )
    subject = Word(*SUBJECTS, required=True)
    subject_id = ma.fields.UUID(required=True)
    old = ma.fields.Raw(required=True, allow_none=True)
    new = ma.fields.Raw(
        required=True,
        allow_none=True,
        metadata={"description": "for an activated list with its prices against those of the list before it"},
    )
