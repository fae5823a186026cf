"""How to buy, as asked; and the basket, as answered."""

from __future__ import annotations

from typing import get_args

import marshmallow as ma

from service.api.framework.fields import Exact, Money, Text, Whole, Word
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.pricing.buying import Mode, Why


class BuyingSchema(RequestSchema):
    """How all that a job needs is bought; in a request, what it does not say is as in the terms."""

    mode = Word(
        *get_args(Mode),
        metadata={"description": "`cheapest` of all suppliers; `preferred_only` buys from nobody else"},
    )
    preferred = ma.fields.List(
        ma.fields.UUID(),
        validate=ma.validate.Length(max=50),
        metadata={"description": "suppliers, by id"},
    )
    tolerated_extra_percent = Exact(
        places=1,
        maximum="100",
        metadata={"description": "what others are paid is judged as so much dearer than it is"},
    )
    max_suppliers = Whole(1, 50, allow_none=True)
    region = Text(
        80,
        allow_none=True,
        metadata={"description": "where the goods go: suppliers who state another region are left out"},
    )


class BasketSourceSchema(AnswerSchema):
    product = ma.fields.String(metadata={"description": "the product's id"})
    product_name = ma.fields.String()
    supplier = ma.fields.String(metadata={"description": "the supplier's id"})
    supplier_name = ma.fields.String()


class BasketOrderSchema(AnswerSchema):
    supplier = ma.fields.String(metadata={"description": "the supplier's id"})
    supplier_name = ma.fields.String()
    goods = Money(places=2, minimum=None)
    delivery = Money(
        places=2, minimum=None, metadata={"description": "with freight, carrying in, split packs"}
    )


class DearerThanCheapestSchema(AnswerSchema):
    """What could be had for less, its cost with its own freight, and why it was not."""

    role = ma.fields.String()
    taken = ma.fields.List(ma.fields.Nested(BasketSourceSchema))
    cost = Money(places=2, minimum=None)
    cheapest = ma.fields.List(ma.fields.Nested(BasketSourceSchema))
    cheapest_cost = Money(places=2, minimum=None)
    extra = Money(places=2, minimum=None)
    reasons = ma.fields.List(Word(*get_args(Why)))


class BasketChangeSchema(AnswerSchema):
    role = ma.fields.String()
    instead = ma.fields.List(ma.fields.Nested(BasketSourceSchema))


class SecondBestSchema(AnswerSchema):
    """The best basket with other products or suppliers for some role."""

    cost = Money(places=2, minimum=None)
    extra = Money(places=2, minimum=None)
    proven = ma.fields.Boolean(metadata={"description": "whether no other basket stands between"})
    changes = ma.fields.List(ma.fields.Nested(BasketChangeSchema))


class ExcludedSupplierSchema(AnswerSchema):
    supplier = ma.fields.String(metadata={"description": "the supplier's id"})
    supplier_name = ma.fields.String()
    reason = Word(*get_args(Why))


class BasketSchema(AnswerSchema):
    """All that is bought, with its delivery, beside the bound that proves it."""

    cost = Money(places=2, minimum=None)
    judged = Money(minimum=None, metadata={"description": "with the tolerated extra on other suppliers"})
    bound = Money(minimum=None, metadata={"description": "no basket is judged at less"})
    gap = Money(places=2, minimum=None, metadata={"description": "0: proven"})
    method = Word("bound", "enumeration", "model", "model_limit")
    orders = ma.fields.List(ma.fields.Nested(BasketOrderSchema))
    dearer = ma.fields.List(ma.fields.Nested(DearerThanCheapestSchema))
    second_best = ma.fields.Nested(SecondBestSchema, allow_none=True)
    excluded = ma.fields.List(ma.fields.Nested(ExcludedSupplierSchema))
    left_out = ma.fields.List(ma.fields.String(), metadata={"description": "what was not weighed"})
