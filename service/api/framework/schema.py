"""The two bases of all schemas: requests refuse unknown members, answers may grow."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any

import marshmallow as ma


class RequestSchema(ma.Schema):
    """What a caller sends: an unknown member is a fault, so that a misspelt one is not passed over."""

    class Meta:
        unknown = ma.RAISE


class AnswerSchema(ma.Schema):
    """What the service sends: members may be added, so a description of it stays open."""

    class Meta:
        unknown = ma.EXCLUDE

    def get_attribute(self, obj: Any, attr: str, default: Any) -> Any:
        """The member of this name; only what names a path goes marshmallow's longer way."""
        if "." in attr:
            return super().get_attribute(obj, attr, default)
        return obj.get(attr, default) if isinstance(obj, Mapping) else getattr(obj, attr, default)


@cache
def made(schema: type[ma.Schema], **options: Any) -> ma.Schema:
    """The one instance of a schema with these options: making it copies every field, dumping changes none."""
    return schema(**options)
