"""The organisation and what it prints on its documents, as sent and answered."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import marshmallow as ma

from service.api.framework.fields import Flag, Shaped, Text, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.people import LANGUAGES, AddressSchema

PAPERS = ("a4", "letter")
DETAILS = ("lump_sum", "by_room", "by_line")


class LetterheadSchema(RequestSchema):
    """What stands on every document; words of the office's own are printed as they are."""

    address = ma.fields.Nested(AddressSchema)
    contact_name = Text(120)
    phone = Text(40)
    email = ma.fields.Email()
    website = Text(120)
    tax_number = Text(40)
    bank_details = ma.fields.List(Text(120), validate=ma.validate.Length(max=6))
    payment_terms = Text(1000)
    locale = Word(*LANGUAGES, load_default="en")
    paper = Word(*PAPERS, load_default="a4")
    detail = Word(*DETAILS, load_default="by_room", metadata={"description": "how finely prices are shown"})
    terms_text = Text(8000, metadata={"description": "standing terms; an empty line parts paragraphs"})
    consumer_text = Text(4000, metadata={"description": "for consumers, in place of the general notice"})
    business_text = Text(4000, metadata={"description": "for businesses, in place of the general notice"})


class OrganisationSchema(RequestSchema):
    name = Text(required=True)
    time_zone = Text(60, load_default="UTC", metadata={"description": "of the IANA database"})
    number_prefix = ma.fields.String(
        load_default="Q",
        validate=Shaped(r"^[A-Za-z0-9-]{1,12}$", error="1 to 12 letters, digits and hyphens."),
    )
    automatic_preview = Flag(
        load_default=False,
        metadata={
            "description": "each price list that begins to hold is previewed over the quotes it touches"
        },
    )
    letterhead = ma.fields.Nested(LetterheadSchema, load_default=lambda: LetterheadSchema().load({}))

    @ma.validates("time_zone")
    def _known(self, value: str, data_key: str) -> None:
        try:
            ZoneInfo(value)
        except (KeyError, ValueError, OSError) as fault:
            raise ma.ValidationError("No such time zone.") from fault


class OrganisationAnswer(OrganisationSchema):
    class Meta(AnswerSchema.Meta): ...

    id = ma.fields.UUID(attribute="org_id")
    currency = ma.fields.String()
    standards = ma.fields.String()
    version = ma.fields.Integer()


class CrewSheetQuery(RequestSchema):
    locale = Word(*LANGUAGES, metadata={"description": "without it the letterhead's"})


class DocumentQuery(RequestSchema):
    revision = ma.fields.Integer(
        validate=ma.validate.Range(1, 1_000_000), metadata={"description": "without it the one that stands"}
    )
    locale = Word(*LANGUAGES, metadata={"description": "without it the customer's or the letterhead's"})
    paper = Word(*PAPERS, metadata={"description": "without it the letterhead's"})
    detail = Word(*DETAILS, metadata={"description": "how finely prices are shown"})
