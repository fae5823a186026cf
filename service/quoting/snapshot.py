"""Plain data to JSON and back, for what is stored with a quote.

Decimals and fractions travel as strings, so that a snapshot read back gives the same figures.
"""

from __future__ import annotations

import hashlib
import json
from decimal import Decimal
from fractions import Fraction
from typing import Any, TypeVar

from cattrs.preconf.json import make_converter

from service.sentence import Sentence
from service.takeoff.room import OriginKind, Point

T = TypeVar("T")

_converter = make_converter()
_converter.register_unstructure_hook(Decimal, str)
_converter.register_structure_hook(Decimal, lambda value, _: Decimal(value))
_converter.register_unstructure_hook(Fraction, str)
_converter.register_structure_hook(Fraction, lambda value, _: Fraction(value))


def _origin(value: str | list[float], _: object) -> Any:
    return value if isinstance(value, str) else (float(value[0]), float(value[1]))


_converter.register_structure_hook(OriginKind | Point, _origin)


def _template(said: Sentence) -> dict[str, Any]:
    figures = {name: to_json(figure) for name, figure in said.figures.items()}
    return {"template": said.template, "figures": figures}


def _sentence(value: Any, _: object = None) -> Any:
    """What is kept as plain words stays so."""
    if not isinstance(value, dict):
        return value
    return Sentence(value["template"], {name: _sentence(kept) for name, kept in value["figures"].items()})


_converter.register_unstructure_hook(Sentence, _template)
_converter.register_structure_hook_func(lambda kind: kind == Sentence | str, _sentence)


def to_json(value: object) -> Any:
    """Dicts, lists, strings and numbers for `value`, a dataclass of the take-off or of pricing."""
    return _converter.unstructure(value)


def fingerprint(value: object) -> str:
    """Twelve hex digits that differ when anything in `value` does."""
    text = json.dumps(to_json(value), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def from_json(value: Any, kind: type[T]) -> T:
    """The dataclass `kind` that `to_json` made `value` of."""
    return _converter.structure(value, kind)
