"""What the published description says of our own fields."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import marshmallow as ma

from service.api.framework.fields import Length, Money, Number, Offset, Rounded

LENGTH_SCHEMA: Mapping[str, Any] = {"type": "string", "examples": ["3.6 m", "11 ft 9 3/4 in"]}


def documented(_converter: Any, field: ma.fields.Field[Any], **_: Any) -> dict[str, Any]:
    """What the published description says of these fields, of which it would know nothing by itself."""
    schema = _schema_of(field)
    if field.allow_none and "type" in schema:
        return schema | {"type": [schema["type"], "null"]}
    if field.allow_none and "oneOf" in schema:
        return schema | {"oneOf": [*schema["oneOf"], {"type": "null"}]}
    return schema


def _schema_of(field: ma.fields.Field[Any]) -> dict[str, Any]:
    match field:
        case Money():
            return {"type": "string", "format": "decimal", "pattern": field.shape}
        case Length():
            length = {"oneOf": [{"type": "number", **_bounds(field)}, LENGTH_SCHEMA]}
            return {"description": "mm, or text with its unit", **length, **field.metadata}
        case Number():
            return {"type": "number", **_bounds(field)}
        case Offset():
            number = {"type": "number", "minimum": 0, "exclusiveMaximum": 1}
            return {"oneOf": [number, {"type": "string", "pattern": "^[0-9]{1,3}(/[1-9][0-9]{0,2})?$"}]}
        case Rounded():
            return {"type": "number"}
    return {}


def _bounds(field: Length | Number) -> dict[str, float]:
    low = "exclusiveMinimum" if field.above else "minimum"
    bounds = {low: field.minimum, "maximum": field.maximum}
    return {name: bound for name, bound in bounds.items() if bound is not None}
