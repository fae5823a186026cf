"""Suppliers, products and price lists as sent and answered."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

import marshmallow as ma

from service.api.framework.fields import Exact, Flag, Keyed, Money, Percent, Shaped, Text, Whole, Word, finite
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.pricing.roles import UNIT_OF_ROLE

MAX_ITEMS = 5000
TILE_MEASURES = ("length_mm", "width_mm", "thickness_mm")


def currency(**options: Any) -> ma.fields.String:
    code = Shaped(r"^[A-Z]{3}$", error="Three capital letters, ISO 4217.")
    return ma.fields.String(validate=code, **options)


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


class PriceListSchema(RequestSchema):
    """One supplier's prices from a day on; of the regular ones in force that of the highest priority
    holds, then the latest. What it leaves out is no longer sold; a promotion holds beside it for what it
    names."""

    supplier_id = ma.fields.UUID(required=True)
    name = Text(required=True)
    kind = Word("regular", "promotion", "job_offer", load_default="regular")
    reference = Text(
        80,
        allow_none=True,
        load_default=None,
        metadata={"description": "of an offer for one job"},
    )
    priority = Whole(0, 100, load_default=0)
    valid_from = ma.fields.Date(required=True)
    valid_until = ma.fields.Date(allow_none=True, load_default=None)
    list_percent = Percent(
        allow_none=True, load_default=None, metadata={"description": "off every list price"}
    )
    discounts = Keyed(
        keys=Text(40),
        values=Percent(),
        validate=ma.validate.Length(max=500),
        load_default=dict,
        metadata={"description": "percent off the list prices of a discount group, by group"},
    )

    @ma.validates_schema
    def _in_order(self, data: dict[str, Any], **_: Any) -> None:
        until = data.get("valid_until")
        if until is not None and until < data["valid_from"]:
            raise ma.ValidationError("Before valid_from.", "valid_until")

    @ma.validates_schema
    def _offer_is_named_and_ends(self, data: dict[str, Any], **_: Any) -> None:
        job_offer = data["kind"] == "job_offer"
        if job_offer != (data["reference"] is not None):
            raise ma.ValidationError("An offer for one job has a reference, other lists none.", "reference")
        if job_offer and data["valid_until"] is None:
            raise ma.ValidationError("An offer for one job expires.", "valid_until")

    @ma.post_load
    def _kept_as_text(self, data: dict[str, Any], **_: Any) -> dict[str, Any]:
        """Percentages in the database's JSON are strings, so that they stay exact."""
        return {**data, "discounts": {group: f"{percent:f}" for group, percent in data["discounts"].items()}}


class PriceListAnswer(PriceListSchema, Stored):
    class Meta(AnswerSchema.Meta): ...

    discounts = Keyed(keys=ma.fields.String(), values=ma.fields.String())
    state = Word("draft", "active", "withdrawn")
    activated_at = ma.fields.AwareDateTime(allow_none=True)
    holds_from = ma.fields.AwareDateTime(
        allow_none=True, metadata={"description": "null: from its first day on"}
    )
    withdrawn_at = ma.fields.AwareDateTime(allow_none=True)
    rejected_rows = ma.fields.Integer(metadata={"description": "rows of its last import that were left out"})


class PriceItemSchema(RequestSchema):
    """The price of one pack, from `min_packs` packs of an order on.

    Either `price`, net, or `list_price` (per pack, unit or m2) less `percent`, else the percentage of its
    group or of the list.
    """

    product_id = ma.fields.UUID(required=True)
    pack_size = Exact(required=True, metadata={"description": "in the unit of the product's role"})
    min_packs = Whole(1, 1_000_000, load_default=1)
    price = Money(places=14, allow_none=True, load_default=None)
    list_price = Money(allow_none=True, load_default=None)
    per = Word("pack", "unit", "m2", load_default="pack")
    m2_per_pack = Exact(allow_none=True, load_default=None)
    percent = Percent(allow_none=True, load_default=None)
    discount_group = Text(40, allow_none=True, load_default=None)
    split = Flag(load_default=False, metadata={"description": "taken out of an opened larger pack"})
    supplier_code = Text(
        allow_none=True, load_default=None, metadata={"description": "the supplier's own for the article"}
    )

    @ma.validates("pack_size")
    @ma.validates("m2_per_pack")
    def _something_in_it(self, value: Any, data_key: str) -> None:
        if value is not None and not value:
            raise ma.ValidationError("Must be more than 0.")

    @ma.validates_schema
    def _some_price(self, data: dict[str, Any], **_: Any) -> None:
        if data["price"] is None and data["list_price"] is None:
            raise ma.ValidationError("A price is net, or follows from list_price.", "price")
        if data["list_price"] is None and data["per"] != "pack":
            raise ma.ValidationError("A net price is that of a pack; per goes with list_price.", "per")


class PriceItemAnswer(AnswerSchema):
    """A price and how it came: list_price x priced_units less percent."""

    product_id = ma.fields.UUID(required=True)
    pack_size = Exact(required=True)
    min_packs = ma.fields.Integer(required=True)
    price = Money(places=14, required=True)
    list_price = Money(allow_none=True)
    per = Word("pack", "unit", "m2")
    priced_units = Exact(metadata={"description": "of what the list price is for in a pack"})
    percent = Percent()
    percent_from = Word("item", "group", "list", allow_none=True)
    discount_group = ma.fields.String(allow_none=True)
    split = ma.fields.Boolean()
    supplier_code = ma.fields.String(allow_none=True)


class PriceItemsSchema(RequestSchema):
    """All prices of a list; sent again they replace what the draft held."""

    items = ma.fields.List(
        ma.fields.Nested(PriceItemSchema), required=True, validate=ma.validate.Length(max=MAX_ITEMS)
    )

    @ma.validates_schema
    def _one_price_each(self, data: dict[str, Any], **_: Any) -> None:
        seen: set[tuple[Any, ...]] = set()
        firsts = {(item["product_id"], item["pack_size"]) for item in data["items"] if item["min_packs"] == 1}
        for place, item in enumerate(data["items"]):
            pack = (item["product_id"], item["pack_size"])
            if (*pack, item["min_packs"]) in seen:
                raise _at(place, "min_packs", "This pack has a price from this number on already.")
            if pack not in firsts:
                raise _at(place, "min_packs", "The first price of a pack is from 1 on.")
            seen.add((*pack, item["min_packs"]))

    @ma.validates_schema
    def _one_article_each(self, data: dict[str, Any], **_: Any) -> None:
        meant: dict[str, UUID] = {}
        for place, item in enumerate(data["items"]):
            code, product = item["supplier_code"], item["product_id"]
            if code is not None and meant.setdefault(code, product) != product:
                raise _at(place, "supplier_code", "This code stands for another product already.")


class PriceItemsAnswer(AnswerSchema):
    items = ma.fields.List(ma.fields.Nested(PriceItemAnswer), required=True)


def _at(place: int, name: str, detail: str) -> ma.ValidationError:
    return ma.ValidationError({"items": {place: {name: [detail]}}})


class CatalogueQuery(PageQuery):
    """`archived=true` lists what was archived as well."""

    archived = ma.fields.Boolean(load_default=False)


class ProductsQuery(CatalogueQuery):
    role = Word(*UNIT_OF_ROLE)


class PriceListsQuery(PageQuery):
    supplier_id = ma.fields.UUID()
    state = Word("draft", "active", "withdrawn")


def page_schema(item: type[ma.Schema]) -> type[ma.Schema]:
    """The page of a list of such items."""
    return AnswerSchema.from_dict(
        {
            "items": ma.fields.List(ma.fields.Nested(item), required=True),
            "next": ma.fields.String(required=True, allow_none=True),
        },
        name=item.__name__.removesuffix("Answer") + "PageSchema",
    )
