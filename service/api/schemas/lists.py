"""Purchase list, pick list and crew sheet as answered."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Exact, Money, Percent, plainly
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.api.schemas.priced import LineSchema
from service.quoting.pick import RoomPicks
from service.quoting.purchase import Order, PurchaseList
from service.quoting.quotes import StoredQuote

NO_ROOM = "null: for the whole job, spares and what offcuts of one room spare in another"
BOUGHT = (
    "role",
    "product",
    "description",
    "packs",
    "pack_size",
    "unit",
    "quantity",
    "cost",
    "amount",
    "rooms",
    "supplier_code",
    "split",
)
CHOSEN_LATER = ("role", "description", "unit", "quantity", "cost", "amount", "rooms", "note")
PURCHASE_COLUMNS = (
    *("supplier", "lead_time_days", "order_by", "kind", "role", "product", "description"),
    *("packs", "pack_size", "unit", "quantity", "cost", "amount", "currency", "rooms", "restocking_percent"),
    *("supplier_code", "split"),
)
PICK_COLUMNS = ("room", "role", "description", "quantity", "unit", "packs", "shared_with")


class PurchaseQuery(RequestSchema):
    supplier = ma.fields.UUID(metadata={"description": "only what this supplier delivers"})
    needed_by = ma.fields.Date(metadata={"description": "the day on which the goods are to be there"})


class PurchasedSchema(LineSchema):
    """A line of a quote, as far as buying it goes."""

    supplier_code = ma.fields.String(
        allow_none=True, metadata={"description": "the supplier's own for the article"}
    )
    split = ma.fields.Boolean(metadata={"description": "taken out of an opened larger pack"})

    class Meta(AnswerSchema.Meta):
        fields = BOUGHT


class ToChooseSchema(LineSchema):
    """An allowance whose product is still to be chosen."""

    class Meta(AnswerSchema.Meta):
        fields = CHOSEN_LATER


class PackReturnedSchema(AnswerSchema):
    product = ma.fields.String()
    pack_size = Exact()
    brings = Money(places=20, metadata={"description": "for an unopened pack sent back"})


class OrderSchema(AnswerSchema):
    supplier = ma.fields.UUID()
    supplier_name = ma.fields.String()
    lead_time_days = ma.fields.Integer(
        allow_none=True, metadata={"description": "calendar days, as stated today"}
    )
    order_by = ma.fields.Date(
        allow_none=True, metadata={"description": "needed_by less the lead time; null without needed_by"}
    )
    lines = ma.fields.List(ma.fields.Nested(PurchasedSchema))
    goods = Money(places=2, minimum=None, metadata={"description": "the sum of the lines' amounts"})
    delivery = Money(places=2, minimum=None)
    total = Money(places=2, minimum=None)
    restocking_percent = Percent(
        allow_none=True, metadata={"description": "kept back of what is returned, as stated today"}
    )
    returns = ma.fields.List(ma.fields.Nested(PackReturnedSchema))


class OfQuoteSchema(AnswerSchema):
    quote = ma.fields.UUID()
    number = ma.fields.String()
    revision = ma.fields.Integer()


class PurchaseListSchema(OfQuoteSchema):
    currency = ma.fields.String()
    price_date = ma.fields.Date()
    needed_by = ma.fields.Date(allow_none=True)
    orders = ma.fields.List(ma.fields.Nested(OrderSchema))
    to_choose = ma.fields.List(
        ma.fields.Nested(ToChooseSchema),
        metadata={"description": "allowances: their product is not chosen, nobody delivers it yet"},
    )


class PacksSchema(AnswerSchema):
    product = ma.fields.String()
    description = ma.fields.String()
    packs = ma.fields.Integer(metadata={"description": "for all rooms together"})
    pack_size = Exact()
    unit = ma.fields.String()


class PickSchema(AnswerSchema):
    role = ma.fields.String()
    description = ma.fields.String()
    quantity = Exact(minimum=None, metadata={"description": "those of all rooms add up to what is needed"})
    unit = ma.fields.String()
    packs = ma.fields.List(ma.fields.Nested(PacksSchema))
    shared_with = ma.fields.List(ma.fields.String(), metadata={"description": "rooms of the same packs"})


class RoomPicksSchema(AnswerSchema):
    room = ma.fields.String(allow_none=True, metadata={"description": NO_ROOM})
    items = ma.fields.List(ma.fields.Nested(PickSchema))


class PickListSchema(OfQuoteSchema):
    rooms = ma.fields.List(ma.fields.Nested(RoomPicksSchema))


def of_quote(quote: StoredQuote) -> dict[str, Any]:
    return {"quote": quote.id, "number": quote.number, "revision": quote.revision}


def purchase_answer(found: PurchaseList) -> dict[str, Any]:
    quote = found.quote
    told = {
        **of_quote(quote),
        "currency": quote.currency,
        "price_date": quote.price_date,
        "needed_by": found.needed_by,
        "orders": found.orders,
        "to_choose": found.to_choose,
    }
    dumped: dict[str, Any] = PurchaseListSchema().dump(told)
    return dumped


def purchase_rows(found: PurchaseList) -> Iterator[dict[str, Any]]:
    """A row for each line and delivery of each order, then the allowances."""
    for order in found.orders:
        head = _order_head(order) | {"currency": found.quote.currency}
        for line in PurchasedSchema(many=True).dump(order.lines):
            yield {**head, "kind": "material", **line, "rooms": "; ".join(line["rooms"])}
        if order.delivery:
            yield {
                **head,
                "kind": "delivery",
                "description": "delivery",
                "amount": plainly(order.delivery, 2),
            }
    for line in ToChooseSchema(many=True).dump(found.to_choose):
        rooms = "; ".join(line["rooms"])
        yield {"kind": "to choose", **line, "rooms": rooms, "currency": found.quote.currency}


def _order_head(order: Order) -> dict[str, Any]:
    by = order.order_by.isoformat() if order.order_by else None
    kept = order.restocking_percent
    return {
        "supplier": order.supplier_name,
        "lead_time_days": order.lead_time_days,
        "order_by": by,
        "restocking_percent": None if kept is None else plainly(kept, 0),
    }


def pick_answer(quote: StoredQuote, picks: tuple[RoomPicks, ...]) -> dict[str, Any]:
    dumped: dict[str, Any] = PickListSchema().dump({**of_quote(quote), "rooms": picks})
    return dumped


def pick_rows(picks: tuple[RoomPicks, ...]) -> Iterator[dict[str, Any]]:
    """A row for each material of each room; room is empty for the whole job."""
    for room in picks:
        for item in PickSchema(many=True).dump(room.items):
            packs = ", ".join(
                f"{each['packs']} x {each['pack_size']} {each['unit']}" for each in item["packs"]
            )
            yield {**item, "room": room.room, "packs": packs, "shared_with": "; ".join(item["shared_with"])}
