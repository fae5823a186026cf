"""Price books, agreements, activations and imports as sent and answered."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Exact, Flag, Money, Percent, Text, Word
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.catalogue import Stored, currency
from service.pricing.roles import UNIT_OF_ROLE
from service.quoting.imports.numbers import DecimalMark

DELIMITERS: dict[str | None, str] = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}
MARKS: dict[str | None, DecimalMark] = {"point": ".", "comma": ","}


class ActivationSchema(RequestSchema):
    """When the list begins to hold, and what was seen.

    Without `at` it holds from now, at the earliest from its first day.
    """

    may_be_left_out = True
    at = ma.fields.AwareDateTime(allow_none=True, load_default=None)
    accept_rejected = Flag(
        load_default=False, metadata={"description": "go live without the rows that the import left out"}
    )
    confirm_jumps = Flag(
        load_default=False, metadata={"description": "prices over the organisation's limit are right"}
    )


class ImportQuery(ma.Schema):
    """How to read the file, where it should not be guessed, and what to do with it."""

    dry_run = ma.fields.Boolean(load_default=False)
    create_products = ma.fields.Boolean(load_default=False)
    activate = ma.fields.Boolean(load_default=False)
    accept_rejected = ma.fields.Boolean(load_default=False)
    confirm_jumps = ma.fields.Boolean(load_default=False)
    encoding = ma.fields.String(load_default=None, validate=ma.validate.Length(1, 40))
    delimiter = Word("comma", "semicolon", "tab", "bar", load_default=None)
    decimal = Word("point", "comma", load_default=None)
    map = ma.fields.List(
        ma.fields.String(validate=ma.validate.Regexp(r".+=.+", error="Write heading=field.")),
        load_default=list,
        validate=ma.validate.Length(max=40),
        metadata={"description": "heading=field, once for each column that is not to be guessed"},
    )


class FormatAnswer(AnswerSchema):
    kind = Word("csv", "xlsx")
    encoding = ma.fields.String(allow_none=True)
    delimiter = ma.fields.String(allow_none=True)
    decimal = ma.fields.String()
    header_row = ma.fields.Integer()


class ColumnAnswer(AnswerSchema):
    heading = ma.fields.String()
    place = ma.fields.Integer(metadata={"description": "from 0"})
    field = ma.fields.String(allow_none=True)
    guessed = ma.fields.Boolean()


class ImportCounts(AnswerSchema):
    accepted = ma.fields.Integer()
    rejected = ma.fields.Integer()
    new = ma.fields.Integer()
    changed = ma.fields.Integer()
    same = ma.fields.Integer()
    gone = ma.fields.Integer()
    jumps = ma.fields.Integer()


class ChangeAnswer(AnswerSchema):
    """The price of a pack before and after; `percent` is of the old price; of a new pack, by the price of a
    unit beside the nearest pack of the product."""

    code = ma.fields.String(allow_none=True)
    name = ma.fields.String()
    pack_size = Exact()
    min_packs = ma.fields.Integer()
    old = Money(places=14, allow_none=True)
    new = Money(places=14, allow_none=True)
    percent = Exact(places=4, minimum=None, allow_none=True)


class RejectedAnswer(AnswerSchema):
    row = ma.fields.Integer(required=True, metadata={"description": "from 1, the header counted"})
    column = ma.fields.String(required=True)
    value = ma.fields.String(required=True)
    reason = ma.fields.String(required=True)


class ImportAnswer(AnswerSchema):
    """What the import did or, dry, would do. Counts are of all, lists show the first hundred."""

    price_list_id = ma.fields.UUID(required=True)
    dry_run = ma.fields.Boolean(required=True)
    unchanged = ma.fields.Boolean(
        required=True, metadata={"description": "the list has these very prices already"}
    )
    activated = ma.fields.Boolean(required=True)
    missing = ma.fields.List(
        ma.fields.String(), metadata={"description": "what must be said for the list to go live"}
    )
    format = ma.fields.Nested(FormatAnswer)
    columns = ma.fields.List(ma.fields.Nested(ColumnAnswer))
    rows = ma.fields.Integer(required=True)
    counts = ma.fields.Nested(ImportCounts, required=True)
    new = ma.fields.List(ma.fields.Nested(ChangeAnswer))
    changed = ma.fields.List(ma.fields.Nested(ChangeAnswer))
    gone = ma.fields.List(ma.fields.Nested(ChangeAnswer))
    jumps = ma.fields.List(ma.fields.Nested(ChangeAnswer))
    rejected = ma.fields.List(ma.fields.Nested(RejectedAnswer))
    jump_limit_percent = Percent("100000")


class AgreementSchema(RequestSchema):
    """What a supplier grants on its regular lists: a percentage off, or the price of a product's pack."""

    supplier_id = ma.fields.UUID(required=True)
    name = Text(required=True)
    product_id = ma.fields.UUID(allow_none=True, load_default=None)
    role = Word(*UNIT_OF_ROLE, allow_none=True, load_default=None)
    percent = Percent(allow_none=True, load_default=None)
    price = Money(allow_none=True, load_default=None)
    pack_size = Exact(allow_none=True, load_default=None)
    valid_from = ma.fields.Date(required=True)
    valid_until = ma.fields.Date(allow_none=True, load_default=None)

    @ma.validates_schema
    def _fits(self, data: dict[str, Any], **_: Any) -> None:
        for what, field in self._faults(data):
            raise ma.ValidationError(what, field)

    @staticmethod
    def _faults(data: dict[str, Any]) -> list[tuple[str, str]]:
        said = {name for name, value in data.items() if value is not None}
        until = data["valid_until"]
        checks = (
            (len(said & {"product_id", "role"}) != 1, "It is for a product or for a role.", "product_id"),
            (len(said & {"percent", "price"}) != 1, "It grants a percentage or a price.", "percent"),
            ("price" in said and "product_id" not in said, "A price is that of a product.", "price"),
            (
                ("price" in said) != ("pack_size" in said) or data["pack_size"] == 0,
                "Wanted with a price, above 0.",
                "pack_size",
            ),
            (until is not None and until < data["valid_from"], "Before valid_from.", "valid_until"),
        )
        return [(what, field) for wrong, what, field in checks if wrong]


class AgreementAnswer(AgreementSchema, Stored):
    class Meta(AnswerSchema.Meta): ...


class AgreementEndSchema(RequestSchema):
    valid_until = ma.fields.Date(required=True, metadata={"description": "its last day"})


class AgreementsQuery(PageQuery):
    supplier_id = ma.fields.UUID()


class PriceBookQuery(PageQuery):
    """`on` is today where it is left out; `reference` names offers for one job that count as well.

    `known_at` asks what was known of the day at that moment; else it is the end of the day itself.
    """

    on = ma.fields.Date(load_default=None)
    known_at = ma.fields.AwareDateTime(load_default=None)
    role = Word(*UNIT_OF_ROLE, load_default=None)
    supplier_id = ma.fields.UUID(load_default=None)
    product_id = ma.fields.UUID(load_default=None)
    reference = ma.fields.List(ma.fields.String(), load_default=list, validate=ma.validate.Length(max=20))


class BookProduct(AnswerSchema):
    id = ma.fields.UUID(required=True)
    code = ma.fields.String(allow_none=True)
    name = ma.fields.String(required=True)
    role = ma.fields.String(required=True)
    unit = ma.fields.String(required=True)


class BookSupplier(AnswerSchema):
    id = ma.fields.UUID(required=True)
    name = ma.fields.String(required=True)


class BookList(AnswerSchema):
    id = ma.fields.UUID(required=True)
    name = ma.fields.String(required=True)
    kind = ma.fields.String(required=True)
    reference = ma.fields.String(allow_none=True)
    priority = ma.fields.Integer()
    valid_from = ma.fields.Date()
    valid_until = ma.fields.Date(allow_none=True)


class BookAgreement(AnswerSchema):
    id = ma.fields.UUID(required=True)
    name = ma.fields.String(required=True)
    percent = Percent(allow_none=True)
    price = Money(allow_none=True)


class BookRowAnswer(AnswerSchema):
    """A price in force and how it came: the list price, the list's percentage, the agreement, the price."""

    supplier = ma.fields.Nested(BookSupplier, required=True)
    product = ma.fields.Nested(BookProduct, required=True)
    pack_size = Exact(required=True, attribute="item.pack_size")
    min_packs = ma.fields.Integer(required=True, attribute="item.min_packs")
    price = Money(places=20, required=True, metadata={"description": "of a pack"})
    currency = currency(required=True, attribute="supplier.currency")
    list = ma.fields.Nested(BookList, required=True, attribute="price_list")
    list_price = Money(allow_none=True, attribute="item.list_price")
    per = ma.fields.String(attribute="item.per")
    priced_units = Exact(attribute="item.priced_units")
    percent = Percent(attribute="item.percent")
    percent_from = ma.fields.String(allow_none=True, attribute="item.percent_from")
    net_price = Money(
        places=14, attribute="item.price", metadata={"description": "of the list, before the agreement"}
    )
    agreement = ma.fields.Nested(BookAgreement, allow_none=True)
    supplier_code = ma.fields.String(allow_none=True, attribute="item.supplier_code")
    split = ma.fields.Boolean(
        attribute="item.split", metadata={"description": "taken out of an opened larger pack"}
    )


class PriceBookAnswer(AnswerSchema):
    on = ma.fields.Date(required=True)
    known_at = ma.fields.AwareDateTime(
        required=True, allow_none=True, metadata={"description": "null: as it was known on that day"}
    )
    items = ma.fields.List(ma.fields.Nested(BookRowAnswer), required=True)
    next = ma.fields.String(required=True, allow_none=True)


class PriceLimitSchema(RequestSchema):
    """By how much a price may move before a new list needs confirmation."""

    jump_percent = Percent("10000", required=True)
