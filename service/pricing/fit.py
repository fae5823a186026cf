"""Whether a product does what a need asks, judged only by what the product states."""

from __future__ import annotations

from collections.abc import Iterable

from service.pricing.model import Attribute, Condition, Need, Product
from service.pricing.terms import serving

TOLERANCE = 1e-9
"""Noise of binary arithmetic in a limit, in the attribute's own unit."""


def fits(product: Product, need: Need) -> bool:
    """A role that serves, the unit, every condition met by what is stated; the unstated does not fit, unless
    the condition leaves it open."""
    same = product.role in serving(need.role) and product.unit == need.unit
    return same and all(meets(product.attributes.get(c.attribute), c) for c in need.conditions)


def meets(stated: Attribute | None, condition: Condition) -> bool:
    """Whether what is stated is one of the words wanted and lies within the limits wanted."""
    if stated is None:
        return condition.if_stated
    if condition.one_of and not _words(stated) & set(condition.one_of):
        return False
    return _within(stated, condition.at_least, condition.at_most)


def _words(stated: Attribute) -> set[str]:
    if isinstance(stated, str):
        return {stated}
    return set(stated) if isinstance(stated, tuple) else set()


def _within(stated: Attribute, at_least: float | None, at_most: float | None) -> bool:
    if at_least is None and at_most is None:
        return True
    if isinstance(stated, str | tuple):
        return False
    above = at_least is None or stated >= at_least - TOLERANCE
    return above and (at_most is None or stated <= at_most + TOLERANCE)


def wanted(conditions: Iterable[Condition]) -> str:
    """The conditions in words, for a message."""
    return "; ".join(_phrase(condition) for condition in conditions) or "nothing in particular"


def _phrase(condition: Condition) -> str:
    parts = [" or ".join(condition.one_of)] if condition.one_of else []
    if condition.at_least is not None:
        parts.append(f"at least {condition.at_least:g}")
    if condition.at_most is not None:
        parts.append(f"at most {condition.at_most:g}")
    unsaid = ", if stated" if condition.if_stated else ""
    return f"{condition.attribute} {' and '.join(parts) or 'stated'}{unsaid}"
