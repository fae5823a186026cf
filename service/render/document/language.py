"""One language as spoken in one country: its texts, and how figures, money and days are written."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib import resources
from io import BytesIO
from typing import Any

from babel import Locale, UnknownLocaleError, dates, numbers
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from service.render.document.blocks import Words
from service.render.document.text import clean, isolated
from service.render.lengths import length_text
from service.units import M2_PER_FT2

SOURCE = "en"
"""The language of the texts in the code."""
STANDARD = re.compile(r"(?:\d+ )?[A-Z]\w*(?: (?:and )?[A-Z\d][\w./:-]*)+")
"""How sources name standards and laws: words in capitals, and numbers."""


@dataclass(frozen=True, slots=True)
class Tongue:
    """`say` gives a fixed text in this language; the others write values its way."""

    locale: Locale
    catalogue: NullTranslations
    currency: str
    us_units: bool = False

    @property
    def code(self) -> str:
        return str(self.locale.language)

    @property
    def colon(self) -> str:
        """French sets it apart."""
        return "\N{NO-BREAK SPACE}:" if self.code == "fr" else ":"

    def say(self, text: str, **values: Any) -> str:
        return self.catalogue.gettext(text).format(**values)

    def count(self, one: str, many: str, number: int) -> str:
        """The text for one or for many, with `{number}` in it."""
        return self.catalogue.ngettext(one, many, number).format(number=self.number(number))

    def known(self, text: str) -> str | None:
        """The text in this language; None where the catalogue lacks it."""
        found = self.catalogue.gettext(text) if text else text
        return found if found != text or self.code == SOURCE else None

    def fixed(self, text: str) -> Words:
        """A stored English sentence in this language where the catalogue has it, else as English.

        Names of rooms may stand before it and its source behind it, in brackets.
        """
        whole = clean(text)
        for start in _after(whole, ": "):
            for end in (len(whole), *(at - 2 for at in _after(whole, " (")[1:])):
                said = self.known(whole[start:end])
                if said is not None:
                    return Words(self._apart(whole[:start]) + said + self.behind(whole[end:][2:-1]))
        return Words(whole, SOURCE)

    def _apart(self, names: str) -> str:
        """The names before a colon, each kept from turning the next."""
        apart = ", ".join(isolated(name) for name in names.removesuffix(": ").split(", "))
        return f"{apart}{self.colon} " if names else ""

    def behind(self, source: str) -> str:
        """A source in brackets; in other languages than English only the standards that it names."""
        named = (STANDARD.match(part) for part in re.split("[,;] ", source))
        names = [name[0].rstrip(":.") for name in named if name]
        kept = (
            name.replace(" and ", ", ").replace(" ", "\N{NO-BREAK SPACE}") for name in dict.fromkeys(names)
        )
        told = source if self.code == SOURCE else ", ".join(kept)
        return f" ({told})" if told else ""

    def money(self, amount: Decimal) -> str:
        """With as many decimals as the amount has, so that what is shown adds up."""
        return str(
            numbers.format_currency(
                amount.normalize(), self.currency, locale=self.locale, decimal_quantization=False
            )
        )

    def number(self, value: Decimal | float | int, places: int = 2) -> str:
        rounded = round(Decimal(str(value)), places)
        return str(numbers.format_decimal(rounded, locale=self.locale, decimal_quantization=False))

    def percent(self, value: Decimal) -> str:
        part = (value / 100).normalize()
        return str(numbers.format_percent(part, locale=self.locale, decimal_quantization=False))

    def day(self, value: date) -> str:
        return str(dates.format_date(value, "long", locale=self.locale))

    def area(self, square_metres: float) -> str:
        if self.us_units:
            return f"{self.number(square_metres / float(M2_PER_FT2), 1)} ft²"
        return f"{numbers.format_decimal(square_metres, '#,##0.00', locale=self.locale)} m²"

    def metres(self, length: float) -> str:
        return length_text(length * 1000, "us") if self.us_units else f"{self.number(length)} m"

    def millimetres(self, length: float) -> str:
        return length_text(length, "us") if self.us_units else f"{self.number(length, 1)} mm"


def _after(text: str, mark: str) -> list[int]:
    """Where the text begins, and where it goes on after each `mark`."""
    return [0, *(found.end() for found in re.finditer(re.escape(mark), text))]


def tongue(language: str, country: str, currency: str, us_units: bool = False) -> Tongue:
    """The language as written in the country, where the two are known together."""
    return Tongue(_locale(language, country), _catalogue(language), currency, us_units)


@cache
def _locale(language: str, country: str) -> Locale:
    try:
        return Locale.parse(f"{language}_{country}" if country else language)
    except (UnknownLocaleError, ValueError):
        return Locale.parse(language)


@cache
def _catalogue(language: str) -> NullTranslations:
    """Read from the text file itself, so that nothing has to be compiled when packaging."""
    if language == SOURCE:
        return NullTranslations()
    source = resources.files("service.render.document") / "locales" / f"{language}.po"
    compiled = BytesIO()
    write_mo(compiled, read_po(BytesIO(source.read_bytes()), locale=language))
    compiled.seek(0)
    return GNUTranslations(compiled)
