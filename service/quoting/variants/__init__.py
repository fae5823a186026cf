"""Variants of one job side by side, sharing what they have in common; nothing is stored."""

from service.quoting.variants.compare import (
    Asked,
    BadOption,
    BadVariant,
    Comparison,
    TermsChange,
    Variant,
    compare,
)
from service.quoting.variants.differences import Difference, difference

__all__ = [
    "Asked",
    "BadOption",
    "BadVariant",
    "Comparison",
    "Difference",
    "TermsChange",
    "Variant",
    "compare",
    "difference",
]
