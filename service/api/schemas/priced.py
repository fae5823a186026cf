"""What a quote's prices are answered with: lines, totals, taxes and payments."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Exact, Money, Word
from service.api.framework.schema import AnswerSchema, made
from service.pricing.model import Line


class CuttingSchema(AnswerSchema):
    """How the sticks or rolls of a product were found, over all its lines."""

    cost = Money(places=14, minimum=None)
    bound = Money(places=14, minimum=None, metadata={"description": "no packs for these pieces cost less"})
    gap = Money(places=14, minimum=None, metadata={"description": "0: proven to be the cheapest"})
    method = ma.fields.String()
    joints = ma.fields.Integer(metadata={"description": "in runs longer than the longest stick or roll"})


class ExchangeSchema(AnswerSchema):
    """The rate by which a line's cost came from the supplier's currency."""

    id = ma.fields.String(metadata={"description": "of the row of /v1/exchange-rates"})
    currency = ma.fields.String()
    rate = Exact(metadata={"description": "what one unit of `currency` is worth in the quote's"})
    valid_from = ma.fields.Date()


class LineSchema(AnswerSchema):
    kind = Word("material", "labour", "delivery", "adjustment")
    role = ma.fields.String()
    group = ma.fields.String()
    description = ma.fields.String()
    unit = ma.fields.String()
    quantity = Exact(places=10, metadata={"description": "in the unit; of material, what is in the packs"})
    supplier = ma.fields.String(allow_none=True, metadata={"description": "the supplier's id"})
    supplier_name = ma.fields.String(allow_none=True)
    product = ma.fields.String(allow_none=True, metadata={"description": "the product's id"})
    packs = ma.fields.Integer(allow_none=True)
    pack_size = Exact(allow_none=True)
    cost = Money(places=14, metadata={"description": "of a pack, an hour or a unit"})
    amount = Money(places=2, minimum=None, metadata={"description": "at cost"})
    price = Money(places=2, minimum=None, metadata={"description": "what the customer pays, before discount"})
    price_list = ma.fields.String(allow_none=True)
    allowance = ma.fields.Boolean(metadata={"description": "a stated price or product, still to be chosen"})
    note = ma.fields.String()
    rooms = ma.fields.List(ma.fields.String())
    cutting = ma.fields.Nested(CuttingSchema, allow_none=True)
    exchange = ma.fields.Nested(ExchangeSchema, allow_none=True)


class TaxSchema(AnswerSchema):
    name = ma.fields.String()
    percent = Exact()
    base = Money(places=2, minimum=None)
    amount = Money(places=2, minimum=None)
    reverse_charge = ma.fields.Boolean(metadata={"description": "the customer accounts for the tax"})


class PaymentSchema(AnswerSchema):
    name = ma.fields.String()
    amount = Money(places=2, minimum=None)


class CustomerTotalsSchema(AnswerSchema):
    discount = Money(places=2, minimum=None)
    net = Money(places=2, minimum=None)
    tax = Money(places=2, minimum=None)
    taxes = ma.fields.List(ma.fields.Nested(TaxSchema))
    gross = Money(places=2, minimum=None)
    deposit = Money(places=2, minimum=None)
    stages = ma.fields.List(ma.fields.Nested(PaymentSchema))
    retention = Money(places=2, minimum=None)


class TotalsSchema(CustomerTotalsSchema):
    materials = Money(places=2, minimum=None)
    delivery = Money(places=2, minimum=None)
    labour = Money(places=2, minimum=None)
    contingency = Money(places=2, minimum=None)
    markup = Money(places=2, minimum=None)
    rounding = Money(places=2, minimum=None)
    minimum_charge = Money(
        places=2, minimum=None, metadata={"description": "by how much net was raised to the minimum charge"}
    )


class NoticeSchema(AnswerSchema):
    """What the office should know of the prices; the customer is not told."""

    rule = ma.fields.String()
    message = ma.fields.String()


CUSTOMER_LINE = ("kind", "role", "description", "unit", "quantity", "price", "allowance", "rooms")


def customer_line(line: Line) -> dict[str, Any]:
    """A line as the customer may see it: no cost, no supplier."""
    told: dict[str, Any] = made(LineSchema, only=CUSTOMER_LINE).dump(line)
    return {**told, "description": "Delivery"} if line.kind == "delivery" else told
