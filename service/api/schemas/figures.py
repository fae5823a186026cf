"""Figures of an answer, each rounded to what its unit is told in."""

from __future__ import annotations

from typing import Any

import marshmallow as ma

from service.api.framework.fields import Rounded


def metres(**options: Any) -> Rounded:
    return Rounded(3, **options)


def millimetres(**options: Any) -> Rounded:
    return Rounded(2, **options)


def hours(**options: Any) -> Rounded:
    return Rounded(2, **options)


def position(**options: Any) -> ma.fields.Field[Any]:
    """[x, y] in mm."""
    return ma.fields.List(millimetres(), **options)


def ring(**options: Any) -> ma.fields.Field[Any]:
    """The corners of a polygon in order, in mm."""
    return ma.fields.List(position(), **options)
