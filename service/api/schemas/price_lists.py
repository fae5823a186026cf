"""Price lists and their items as sent and answered."""

from __future__ import annotations

from typing import Any
from uuid import UUID

import marshmallow as ma

from service.api.framework.fields import Exact, Flag, Keyed, Money, Percent, Text, Whole, Word
from service.api.framework.pages import PageQuery
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.catalogue import Stored

MAX_ITEMS = 5000


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


class PriceListsQuery(PageQuery):
    supplier_id = ma.fields.UUID()
    state = Word("draft", "active", "withdrawn")
