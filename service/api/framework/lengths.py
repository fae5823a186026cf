"""Lengths as people write them: "3.6 m", "3,6 m", "360 cm", "11 ft 9 3/4 in", "11' 9 3/4\"", "11-9".

Every form is read exactly, as a fraction of a millimetre; the inch is 25.4 mm (NIST SP 811, B.8).
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from service.units import MM_PER_FOOT, MM_PER_INCH

UNITS = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": Fraction(MM_PER_INCH),
    "ft": Fraction(MM_PER_FOOT),
    "'": Fraction(MM_PER_FOOT),
}
_INCHES = r"(?:(?P<whole>\d+(?:\.\d+)?)(?:[ -](?P<over>\d+)/(?P<under>\d+))?|(?P<only>\d+)/(?P<of>\d+))"
_SINGLE = re.compile(r"(?P<number>\d+(?:[.,]\d+)?) ?(?P<unit>mm|cm|m|ft|')", re.ASCII)
_INCH = re.compile(rf"{_INCHES} ?(?:in|\")", re.ASCII)
_FEET_AND_INCHES = re.compile(rf"(?P<feet>\d+) ?(?:ft|') ?-? ?{_INCHES} ?(?:in|\")", re.ASCII)
_FEET_DASH_INCHES = re.compile(rf"(?P<feet>\d+)-{_INCHES} ?(?:in|\")?", re.ASCII)
_PRIMES = str.maketrans({"′": "'", "’": "'", "″": '"', "”": '"', "\u00a0": " ", "\u202f": " "})


def parse_length(text: str) -> Fraction:
    """The length [mm] that `text` says, exactly; ValueError with a reason where it says none."""
    plain = _plain(text)
    if plain.startswith("-"):
        return -parse_length(plain[1:])
    if plain == "0":
        return Fraction(0)
    if match := _SINGLE.fullmatch(plain):
        return _number(match["number"]) * UNITS[match["unit"]]
    if match := _FEET_AND_INCHES.fullmatch(plain) or _FEET_DASH_INCHES.fullmatch(plain):
        return int(match["feet"]) * UNITS["ft"] + _inches(match, below=12) * UNITS["in"]
    if match := _INCH.fullmatch(plain):
        return _inches(match) * UNITS["in"]
    raise ValueError(
        "A length wants its unit: a number of mm, or text such as 3.6 m, 360 cm or 11 ft 9 3/4 in."
    )


def _plain(text: str) -> str:
    if len(text) > 40:
        raise ValueError("Too long for a length.")
    spread = "".join(_vulgar(letter) for letter in text.translate(_PRIMES)).replace("''", '"')
    return " ".join(spread.lower().split())


def _vulgar(letter: str) -> str:
    """One-letter fractions spelled out, with a blank before them: 9¾ is nine and three quarters."""
    if not unicodedata.decomposition(letter).startswith("<fraction>"):
        return letter
    return " " + unicodedata.normalize("NFKC", letter).replace("\u2044", "/")


def _number(text: str) -> Fraction:
    if re.fullmatch(r"\d+,\d{3}", text):
        raise ValueError("A comma before three digits can be read two ways: write a point, or no comma.")
    return Fraction(text.replace(",", "."))


def _inches(match: re.Match[str], below: int | None = None) -> Fraction:
    whole = Fraction(match["whole"] or 0)
    inches = whole + _part(match["over"] or match["only"], match["under"] or match["of"])
    if below is not None and inches >= below:
        raise ValueError("Beside feet there are fewer than 12 inches.")
    return inches


def _part(over: str | None, under: str | None) -> Fraction:
    if over is None or under is None:
        return Fraction(0)
    if not 0 < int(over) < int(under):
        raise ValueError(f"{over}/{under} is no part of an inch.")
    return Fraction(int(over), int(under))
