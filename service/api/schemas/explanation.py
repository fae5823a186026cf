"""A figure of a quote explained: the tree from which it came."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Exact, Text, Word, plainly
from service.api.framework.schema import AnswerSchema, RequestSchema
from service.quoting.explanation import Explanation, Node
from service.quoting.explanation.node import OPERATIONS
from service.quoting.quotes import StoredQuote

_FIGURE = """JSON pointer of the figure in the quote's answer; one that begins with # is no member of it. A
figure is told in full once: where it comes again it has neither formula nor parts""".replace("\n", " ")
_OPERATIONS = "; ".join(f"{name}: {meaning}" for name, meaning in OPERATIONS.items())


DIGITS = 40
"""A figure is told with all its digits, so that what follows from it can be reckoned again."""


class ExplanationQuery(RequestSchema):
    figure = ma.fields.String(
        validate=ma.validate.Length(max=200),
        metadata={"description": "JSON pointer into the quote's answer, such as /totals/gross"},
    )
    option = Text(120, metadata={"description": "of the quote; without it the quote itself"})


class StepSchema(AnswerSchema):
    step = Exact(places=DIGITS)
    method = Word("half_up", "half_even")


class FormulaSchema(AnswerSchema):
    operation = ma.fields.String(
        validate=ma.validate.OneOf(list(OPERATIONS)), metadata={"description": _OPERATIONS}
    )
    words = ma.fields.String()
    rounding = ma.fields.List(
        ma.fields.Nested(StepSchema), metadata={"description": "one after the other, to whole steps"}
    )
    place = ma.fields.Integer(metadata={"description": "of a share: which of the list it is, from 0"})


class NodeSchema(AnswerSchema):
    name = ma.fields.String(required=True)
    value = Exact(places=DIGITS, minimum=None, required=True)
    unit = ma.fields.String(required=True)
    figure = ma.fields.String(metadata={"description": _FIGURE})
    formula = ma.fields.Nested(FormulaSchema)
    parts = ma.fields.List(ma.fields.Nested(lambda: NodeSchema()))
    source = ma.fields.String()


class ExplanationSchema(AnswerSchema):
    quote = ma.fields.UUID()
    number = ma.fields.String()
    revision = ma.fields.Integer()
    tree = ma.fields.Nested(NodeSchema)
    figures = ma.fields.List(
        ma.fields.String(), metadata={"description": "pointers of all figures that can be asked for"}
    )


def explanation_answer(quote: StoredQuote, found: Explanation) -> dict[str, Any]:
    return {
        "quote": str(quote.id),
        "number": quote.number,
        "revision": quote.revision,
        "tree": _told(found.tree, set()),
        "figures": list(found.figures),
    }


def _told(node: Node, told: set[str]) -> dict[str, Any]:
    """The node; a figure that was told before by its name and value only."""
    answer: dict[str, Any] = {"name": node.name, "value": plainly(node.value, 0), "unit": node.unit}
    if node.figure:
        answer["figure"] = node.figure
        if node.figure in told:
            return answer
        told.add(node.figure)
    answer["formula"] = _formula(node)
    answer["parts"] = [_told(part, told) for part in node.parts]
    return answer | ({"source": node.source} if node.source else {})


def _formula(node: Node) -> dict[str, Any]:
    formula: dict[str, Any] = {"operation": node.operation, "words": node.words}
    if node.steps:
        formula["rounding"] = [{"step": plainly(each.step, 0), "method": each.method} for each in node.steps]
    return formula | ({} if node.place is None else {"place": node.place})
