"""Customers and their addresses as sent."""

from __future__ import annotations

import marshmallow as ma

from service.api.framework.fields import Shaped, Text, Word
from service.api.framework.schema import RequestSchema

LANGUAGES = ("de", "en", "es", "fr")
"""Those in which documents are written."""


class AddressSchema(RequestSchema):
    lines = ma.fields.List(Text(120), validate=ma.validate.Length(1, 5))
    postcode = Text(20)
    city = Text(80)
    region = Text(80)
    country = ma.fields.String(validate=Shaped(r"^[A-Z]{2}$", error="Two letters, ISO 3166-1."))


class NamedCustomerSchema(RequestSchema):
    name = Text(required=True)
    email = ma.fields.Email(allow_none=True, load_default=None)
    phone = Text(40, allow_none=True, load_default=None)
    address = ma.fields.Nested(AddressSchema, load_default=dict)
    note = ma.fields.String(load_default="", validate=ma.validate.Length(max=2000))
    kind = Word("consumer", "business", load_default="consumer")
    locale = Word(
        *LANGUAGES,
        allow_none=True,
        load_default=None,
        metadata={"description": "the language of documents; without it the organisation's"},
    )
    tax_number = Text(40, allow_none=True, load_default=None)
