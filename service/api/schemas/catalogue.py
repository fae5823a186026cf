"""Suppliers and products as sent and answered."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Exact, Keyed, Money, Percent, Shaped, Text, Whole, Word, finite
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.pricing.roles import UNIT_OF_ROLE

TILE_MEASURES = ("length_mm", "width_mm", "thickness_mm")


NO_CURRENCIES = ["XXX", "XTS", "XAU", "XAG", "XPT", "XPD", "XBA", "XBB", "XBC", "XBD", "XDR", "XSU", "XUA"]
"""Codes of metals, units of account, tests and none at all (ISO 4217, table A.1; from memory)."""


def currency(**options: Any) -> ma.fields.String:
    code = Shaped(r"^[A-Z]{3}$", error="Three capital letters, ISO 4217.")
    money = ma.validate.NoneOf(NO_CURRENCIES, error="No currency that prices are paid in.")
    return ma.fields.String(validate=[code, money], **options)


class Stored(AnswerSchema):
    """What every stored resource carries."""

    id = ma.fields.UUID(required=True)
    created_at = ma.fields.AwareDateTime(required=True)


class SupplierSchema(RequestSchema):
    name = Text(required=True)
    currency = currency(required=True)
    delivery_charge = Money(load_default=Decimal(0))
    free_delivery_over = Money(allow_none=True, load_default=None)
    minimum_order = Money(allow_none=True, load_default=None)
    lead_time_days = Whole(0, 365, load_default=0)
    region = Text(
        80,
        allow_none=True,
        load_default=None,
        metadata={"description": "where alone it delivers: quotes bought for another region leave it out"},
    )
    freight_per_kg = Money(load_default=Decimal(0))
    carry_in = Money(load_default=Decimal(0), metadata={"description": "of an order, into the house"})
    split_pack_surcharge = Money(load_default=Decimal(0), metadata={"description": "for each pack opened"})
    restocking_percent = Percent(
        load_default=Decimal(0), metadata={"description": "kept back of what is returned"}
    )


class SupplierAnswer(SupplierSchema, Stored):
    class Meta(AnswerSchema.Meta): ...

    archived_at = ma.fields.AwareDateTime(allow_none=True)


class Attribute(ma.fields.Field[Any]):
    """A word, a finite number, or a list of words."""

    def _deserialize(self, value: Any, attr: str | None, data: Any, **kwargs: Any) -> Any:
        if isinstance(value, str):
            return Text(120).deserialize(value)
        if isinstance(value, list):
            return ma.fields.List(Text(120), validate=ma.validate.Length(1, 20)).deserialize(value)
        return finite(value, "A word, a number or a list of words.")


class ProductSchema(RequestSchema):
    """`attributes` say what the product is fit for; `system` names the system of parts that it belongs to."""

    role = Word(*UNIT_OF_ROLE, required=True)
    name = Text(required=True)
    code = Text(80, allow_none=True, load_default=None)
    unit = ma.fields.String(metadata={"description": "that of the role, which is also the default"})
    system = Text(80, allow_none=True, load_default=None)
    attributes = Keyed(keys=Text(60), values=Attribute(), validate=ma.validate.Length(max=40))
    weight_kg = Exact(allow_none=True, load_default=None, metadata={"description": "of one unit"})
    pack_content = Exact(
        allow_none=True, load_default=None, metadata={"description": "what a pack holds, in the unit"}
    )

    @ma.validates("pack_content")
    def _holds_something(self, value: Any, data_key: str) -> None:
        if value is not None and not value:
            raise ma.ValidationError("Must be more than 0.")

    @ma.validates_schema
    def _unit_fits(self, data: dict[str, Any], **_: Any) -> None:
        unit = UNIT_OF_ROLE[data["role"]]
        if data.get("unit", unit) != unit:
            raise ma.ValidationError(f"A {data['role']} is counted in {unit}.", "unit")

    @ma.validates_schema
    def _tile_is_measured(self, data: dict[str, Any], **_: Any) -> None:
        if data["role"] != "tile":
            return
        stated = data.get("attributes", {})
        missing = [name for name in TILE_MEASURES if not _is_size(stated.get(name))]
        if missing:
            detail = ["A tile states this in mm, up to 5000."]
            raise ma.ValidationError({"attributes": dict.fromkeys(missing, detail)})

    @ma.post_load
    def _filled(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        return {"attributes": {}, "unit": UNIT_OF_ROLE[data["role"]], **data}


def _is_size(stated: Any) -> bool:
    return isinstance(stated, float) and 0 < stated <= 5000


class ProductAnswer(ProductSchema, Stored):
    class Meta(AnswerSchema.Meta): ...

    archived_at = ma.fields.AwareDateTime(allow_none=True)


class CatalogueQuery(PageQuery):
    """`archived=true` lists what was archived as well."""

    archived = ma.fields.Boolean(load_default=False)


class ProductsQuery(CatalogueQuery):
    role = Word(*UNIT_OF_ROLE)


def page_schema(item: type[ma.Schema]) -> type[ma.Schema]:
    """The page of a list of such items."""
    return AnswerSchema.from_dict(
        {
            "items": ma.fields.List(ma.fields.Nested(item), required=True),
            "next": ma.fields.String(required=True, allow_none=True),
        },
        name=item.__name__.removesuffix("Answer") + "PageSchema",
    )
