"""Fields of our own: exact decimals, lengths with units, figures rounded at the edge, strict scalars."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

import marshmallow as ma

from service.api.framework.lengths import parse_length

MAX_LENGTH_MM = 1_000_000


class Money(ma.fields.Field[Decimal]):
    """An exact decimal as a string, never a float: "12.50". Excess decimals are refused, not rounded."""

    shown = 2

    def __init__(
        self, places: int = 4, minimum: str | None = "0", maximum: str | None = None, **kwargs: Any
    ) -> None:
        self.minimum, self.maximum = (
            None if bound is None else Decimal(bound) for bound in (minimum, maximum)
        )
        self.places = places
        sign = "" if self.minimum is not None and self.minimum >= 0 else "-?"
        self.shape = rf"^{sign}\d{{1,10}}" + (rf"(\.\d{{1,{places}}})?$" if places else "$")
        super().__init__(**kwargs)

    def _serialize(self, value: Decimal | None, attr: str | None, obj: Any, **kwargs: Any) -> str | None:
        return None if value is None else plainly(value, self.shown)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> Decimal:
        if not isinstance(value, str):
            raise ma.ValidationError('A decimal is written as a string, such as "12.50".')
        if not re.fullmatch(self.shape.replace(r"\d", "[0-9]"), value):
            raise ma.ValidationError(f"Not a decimal with at most {self.places} decimals.")
        return self._bounded(Decimal(value))

    def _bounded(self, value: Decimal) -> Decimal:
        if self.minimum is not None and value < self.minimum:
            raise ma.ValidationError(f"Must be at least {self.minimum}.")
        if self.maximum is not None and value > self.maximum:
            raise ma.ValidationError(f"Must be at most {self.maximum}.")
        return value


class Exact(Money):
    """An exact decimal that is no money, such as a pack size: no decimals are shown that say nothing."""

    shown = 0


class Percent(Exact):
    """A percentage from 0 to 100 as a decimal string."""

    def __init__(self, maximum: str = "100", **kwargs: Any) -> None:
        super().__init__(places=4, maximum=maximum, **kwargs)


class Length(ma.fields.Field[float]):
    """A number of mm, or text with its unit; mm inside. `minimum` counts itself in unless `above` is set."""

    def __init__(
        self, minimum: float = 0.0, maximum: float = MAX_LENGTH_MM, *, above: bool = False, **kwargs: Any
    ) -> None:
        self.minimum, self.maximum, self.above = minimum, maximum, above
        super().__init__(**kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> float:
        length = self._read(value)
        if length < self.minimum or (self.above and length == self.minimum):
            raise ma.ValidationError(
                f"Must be {'more than' if self.above else 'at least'} {self.minimum:g} mm."
            )
        if length > self.maximum:
            raise ma.ValidationError(f"Must be at most {self.maximum:g} mm.")
        return length

    @staticmethod
    def _read(value: Any) -> float:
        if isinstance(value, str):
            try:
                return float(parse_length(value))
            except ValueError as error:
                raise ma.ValidationError(str(error)) from None
        return finite(value, "Not a length: a number of mm, or text with its unit.")


class Number(ma.fields.Field[float]):
    """A finite JSON number; text and booleans are none. `minimum` counts itself in unless `above` is set."""

    def __init__(
        self,
        minimum: float | None = None,
        maximum: float | None = None,
        *,
        above: bool = False,
        **kwargs: Any,
    ) -> None:
        self.minimum, self.maximum, self.above = minimum, maximum, above
        super().__init__(**kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> float:
        number = finite(value, "Not a number.")
        if self.minimum is not None and (number < self.minimum or (self.above and number == self.minimum)):
            raise ma.ValidationError(f"Must be {'more than' if self.above else 'at least'} {self.minimum:g}.")
        if self.maximum is not None and number > self.maximum:
            raise ma.ValidationError(f"Must be at most {self.maximum:g}.")
        return number


class Offset(ma.fields.Field[Fraction]):
    """The shift from row to row as a part of the tile: 0.33 or "1/3", snapped to twelfths and coarser."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> Fraction:
        part = self._read(value).limit_denominator(12)
        if not 0 <= part < 1:
            raise ma.ValidationError("Must be from 0 to under 1.")
        return part

    @staticmethod
    def _read(value: Any) -> Fraction:
        if isinstance(value, str):
            match = re.fullmatch(r"([0-9]{1,3})(?:/([1-9][0-9]{0,2}))?", value)
            if not match:
                raise ma.ValidationError('Not a part of a tile, such as 0.5 or "1/3".')
            return Fraction(int(match[1]), int(match[2] or 1))
        return Fraction(finite(value, 'Not a part of a tile, such as 0.5 or "1/3".'))


class Rounded(ma.fields.Field[float]):
    """A figure of an answer, rounded half to even at `places` decimals."""

    def __init__(self, places: int, **kwargs: Any) -> None:
        self.places = places
        super().__init__(**kwargs)

    def _serialize(self, value: float | None, attr: str | None, obj: Any, **kwargs: Any) -> float | None:
        return None if value is None else round(float(value), self.places) + 0.0


class Text(ma.fields.String):
    """Text with something in it, of bounded length."""

    def __init__(self, longest: int = 200, **kwargs: Any) -> None:
        self.longest = longest
        bounds = ma.validate.Length(max=longest)
        super().__init__(
            validate=[bounds, ma.validate.Regexp(r"\s*\S", error="Must not be blank.")], **kwargs
        )


class Shaped(ma.validate.Validator):
    """Text that a pattern fits whole. The pattern is published and so one of ECMA-262, whose `$` is the end;
    Python's lets a newline follow."""

    def __init__(self, pattern: str, error: str) -> None:
        self.regex = re.compile(pattern)
        self.error: str = error

    def __call__(self, value: str) -> str:
        if self.regex.fullmatch(value) is None:
            raise ma.ValidationError(self.error)
        return value


class Word(ma.fields.String):
    """One of a closed list of words."""

    def __init__(self, *words: str, **kwargs: Any) -> None:
        super().__init__(
            validate=ma.validate.OneOf(words, error=f"Must be one of {', '.join(words)}."), **kwargs
        )


class Flag(ma.fields.Boolean):
    """JSON true or false, nothing that merely looks like it."""

    truthy = {True}  # noqa: RUF012 - the shape that marshmallow wants
    falsy = {False}  # noqa: RUF012

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> bool:
        if not isinstance(value, bool):
            raise self.make_error("invalid", input=value)
        return value


class Whole(ma.fields.Integer):
    """A JSON integer within limits; text and booleans are none, 3.0 is one (JSON Schema 2020-12, 6.1.1)."""

    def __init__(self, minimum: int, maximum: int, **kwargs: Any) -> None:
        super().__init__(strict=True, validate=ma.validate.Range(minimum, maximum), **kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> int:
        if isinstance(value, bool | str):
            raise self.make_error("invalid", input=value)
        if isinstance(value, float) and value.is_integer():
            return int(super()._deserialize(int(value), attr, data, **kwargs))
        return int(super()._deserialize(value, attr, data, **kwargs))


class Keyed(ma.fields.Dict):
    """Values by name, whose faults point at the member itself."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> Any:
        try:
            return super()._deserialize(value, attr, data, **kwargs)  # type: ignore[no-untyped-call]
        except ma.ValidationError as error:
            raise ma.ValidationError(_flat(error.messages)) from None


def _flat(messages: Any) -> Any:
    if not isinstance(messages, dict):
        return messages
    return {name: found.get("key", found.get("value")) for name, found in messages.items()}


def plainly(value: Decimal, shown: int) -> str:
    """The decimal without an exponent, zeros at its end dropped down to `shown` decimals."""
    whole, _, part = f"{value:f}".partition(".")
    part = part.rstrip("0").ljust(shown, "0")
    return f"{whole}.{part}" if part else whole


def finite(value: Any, otherwise: str) -> float:
    """`value` as a float where it is a finite JSON number."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ma.ValidationError(otherwise)
    return float(value)
