"""Numbers as price lists write them: decimal comma or point, thousands grouped, a currency beside."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from functools import cache, lru_cache
from typing import Literal

from service.quoting.imports.cell_words import foreign, signs_of

DecimalMark = Literal[".", ","]
Marks = frozenset[DecimalMark]
NO_MARKS: Marks = frozenset()
MOST = Decimal(10) ** 10
PLACES = 4
LONGEST = 40


class NotANumber(ValueError):
    """Why a cell is no figure that a price list can hold."""


@cache
def _shape(mark: DecimalMark) -> re.Pattern[str]:
    group = "[.'’\\s]" if mark == "," else "[,'’\\s]"
    whole = rf"[0-9]{{1,3}}(?P<group>{group})[0-9]{{3}}(?:(?P=group)[0-9]{{3}})*|[0-9]+"
    return re.compile(rf"(?P<whole>{whole})(?:\{mark}(?P<part>[0-9]+))?")


@cache
def _currency(code: str) -> re.Pattern[str]:
    sign = f"(?:{'|'.join(re.escape(known) for known in signs_of(code))})"
    return re.compile(rf"(?:{sign}\s*)?(.*?)(?:\s*{sign})?", re.IGNORECASE | re.DOTALL)


def guess_mark(texts: Iterable[str]) -> DecimalMark | None:
    """The decimal mark that these cells can only have been written with; None where they leave it open.

    Open is "1.234" alone: a thousand and more, or one and a bit. Cells that contradict each other leave it
    open too.
    """
    found = {mark for text in texts if (mark := _mark_of(text)) is not None}
    return found.pop() if len(found) == 1 else None


def _mark_of(text: str) -> DecimalMark | None:
    """What one cell tells: the later of two different marks, or a single one not before three digits."""
    marks = re.findall(r"[.,]", text)
    if not marks:
        return None
    last: DecimalMark = "," if marks[-1] == "," else "."
    if len(set(marks)) == 2:
        return last
    if len(marks) > 1:
        return "." if last == "," else ","
    before, _, after = text.partition(last)
    digits = re.match(r"[0-9]*", after)
    grouped = digits is not None and len(digits[0]) == 3 and re.search(r"(?<![0-9])[1-9][0-9]{0,2}$", before)
    return None if grouped else last


def doubtful_marks(texts: Iterable[str], mark: DecimalMark) -> Marks:
    """The marks that leave open what "1.234" is, where `mark` is a guess: both where no cell told of it, the
    other one where none showed it between thousands."""
    if guess_mark(texts) is None:
        return frozenset({".", ","})
    other: DecimalMark = "," if mark == "." else "."
    grouped = any(other in text and _mark_of(text) == mark for text in texts)
    return NO_MARKS if grouped else frozenset({other})


def leaves_open(texts: Iterable[str]) -> bool:
    """Whether some cell has a mark at all, so that which one it is matters."""
    return any("," in text or "." in text for text in texts)


@lru_cache(maxsize=16_384)
def parse(text: str, mark: DecimalMark, currency: str = "", doubtful: Marks = NO_MARKS) -> Decimal:
    """The figure in a cell; NotANumber with the reason where there is none, or one out of range, or where it
    could be two, one of the `doubtful` marks being before three digits."""
    if len(text) > LONGEST:
        raise NotANumber("too long for a number")
    bare = text.strip()
    if not bare.isdecimal() and currency:
        stripped = _currency(currency).fullmatch(bare)
        bare = stripped[1].strip() if stripped else bare
    found = _shape(mark).fullmatch(bare)
    if found is None:
        raise NotANumber(_why_not(bare, mark, currency))
    if doubtful and any(one in bare for one in doubtful) and _mark_of(bare) is None:
        raise NotANumber("leaves open whether its mark is a decimal one; say the file's decimal mark")
    whole = re.sub("[^0-9]", "", found["whole"]) if found["group"] else found["whole"]
    return bounded(Decimal(f"{whole}.{found['part'] or 0}"))


def from_cell(value: float) -> Decimal:
    """The figure of a spreadsheet's number cell, to the 15 digits that it keeps (IEEE 754 binary64)."""
    number = Decimal(format(value, ".15g"))
    if not number.is_finite():
        raise NotANumber("not a finite number")
    return bounded(number)


def bounded(number: Decimal) -> Decimal:
    """Within what the database holds: not negative, under ten thousand million, four decimals."""
    if number < 0:
        raise NotANumber("negative")
    if number >= MOST:
        raise NotANumber("out of range")
    plain = number.normalize()
    if -int(plain.as_tuple().exponent) > PLACES:
        raise NotANumber(f"more than {PLACES} decimals")
    return plain


def _why_not(text: str, mark: DecimalMark, currency: str) -> str:
    if currency and foreign(text, currency):
        return f"in another currency than the supplier's, {currency}"
    if re.fullmatch(r"[-−–]\s*[0-9].*", text):
        return "negative"
    other = "," if mark == "." else "."
    if other in text:
        return f"not a number with {'decimal comma' if mark == ',' else 'decimal point'}"
    return "not a number"
