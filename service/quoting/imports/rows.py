"""One row of a file: every cell read and checked, or the reason why the row is left out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from service.pricing.roles import UNIT_OF_ROLE
from service.quoting.imports import numbers
from service.quoting.imports.cell_words import PACK, signs_of, unit_of, yes_or_no
from service.quoting.imports.columns import NAMING, PRICES, Header
from service.quoting.imports.csv_rows import Unended
from service.quoting.imports.numbers import NO_MARKS, DecimalMark, Marks, NotANumber
from service.store.price_imports import Staged

LONGEST_TEXT = 200
SHOWN = 80
PER_OF: Mapping[str, str] = {"list_price": "pack", "price_per_unit": "unit", "price_per_m2": "m2"}
FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a cell starts with that spreadsheets work out (CWE-1236)."""
BLANKS = {ord(blank): " " for blank in "\u00a0\u2007\u202f"}
HUNDRED = Decimal(100)


@dataclass(frozen=True, slots=True)
class Rejected:
    """A row that is left out: its number in the file, the column, what stands there, and why."""

    row: int
    column: str
    value: str
    reason: str


class Unfit(ValueError):
    """A cell that makes its row unfit: its field, its text, the reason."""

    def __init__(self, field: str, value: Any, reason: str) -> None:
        super().__init__(reason)
        self.field = field
        self.value = shown(value)


def shown(value: Any) -> str:
    """A cell as told in a report, cut off where it is long; what does not print as its escape."""
    text = "" if value is None else str(value)
    printable = "".join(map(_visible, text[: SHOWN + 1]))
    return printable if len(printable) <= SHOWN else printable[:SHOWN] + "…"


def _visible(letter: str) -> str:
    return letter if letter.isprintable() else letter.encode("unicode_escape").decode()


@dataclass(frozen=True, slots=True)
class Percents:
    """The percentages off a list price that a price list's head grants."""

    groups: Mapping[str, Decimal]
    overall: Decimal | None


class RowReader:
    """Reads rows by the places of their fields; a cell is text, or a number or nothing of a spreadsheet."""

    def __init__(
        self,
        header: Header,
        mark: DecimalMark,
        currency: str,
        percents: Percents,
        doubtful: Marks = NO_MARKS,
    ) -> None:
        self._places = places = header.places
        self._width = len(header.columns)
        self._mark = mark
        self._doubtful = doubtful
        self._currency = currency
        self._percents = percents
        self._prices = [field for field in PRICES if field in places]
        optional = {"weight_kg": self._number, "m2_per_pack": self._above_nothing}
        self._optional = [(name, read) for name, read in optional.items() if name in places]

    def read(self, number: int, cells: Sequence[Any]) -> Staged:
        """The row as staged; Unfit where a cell cannot be taken."""
        if len(cells) != self._width:
            self._check_width(cells)
        code, name = self._text(cells, "code"), self._text(cells, "name")
        article = self._text(cells, "supplier_code")
        if code is None and name is None and article is None:
            raise Unfit(next(field for field in NAMING if field in self._places), None, "no product is named")
        self._check_currency(cells)
        field, price = self._price(cells)
        percent, source, group = self._percent(cells) if field != "price" else (Decimal(0), None, None)
        more = {name: read(name, self._cell(cells, name)) for name, read in self._optional}
        return Staged(
            row_number=number,
            code=code,
            name=name,
            pack_size=self._above_nothing("pack_size", self._cell(cells, "pack_size")),
            min_packs=self._packs(cells),
            price=price if field == "price" else None,
            list_price=None if field == "price" else price,
            per=PER_OF.get(field, "pack"),
            m2_per_pack=more.get("m2_per_pack"),
            percent=percent,
            percent_from=source,
            discount_group=group,
            role=self._role(cells),
            unit=self._unit(cells, field),
            weight_kg=more.get("weight_kg"),
            supplier_code=article,
            split=self._split(cells),
        )

    def _check_width(self, cells: Sequence[Any]) -> None:
        """A row that is cut off, or has a cell too many, as an unquoted decimal comma makes."""
        last = next((cell for cell in reversed(cells) if cell not in (None, "")), None)
        if isinstance(cells, Unended) and len(cells) < self._width:
            raise Unfit("", last, f"the file ends here, with {len(cells)} of {self._width} columns: cut off?")
        beyond = [cell for cell in cells[self._width :] if cell is not None and str(cell).strip()]
        if beyond and isinstance(cells, list):  # of text: a workbook's cells do not run on
            raise Unfit("", beyond[0], f"more cells than the header's {self._width} columns")

    def _cell(self, cells: Sequence[Any], field: str) -> Any:
        place = self._places.get(field)
        if place is None or place >= len(cells):
            return None
        cell = cells[place]
        return None if isinstance(cell, str) and not cell.strip() else cell

    def _text(self, cells: Sequence[Any], field: str) -> str | None:
        if field not in self._places:
            return None
        cell = self._cell(cells, field)
        if cell is None:
            return None
        text = cell.translate(BLANKS).lstrip(" ") if isinstance(cell, str) else _as_text(field, cell)
        if text.startswith(FORMULA):
            raise Unfit(field, text, "looks like a formula; formulas are not worked out")
        text = text.rstrip()
        if len(text) > LONGEST_TEXT:
            raise Unfit(field, text, f"longer than {LONGEST_TEXT} characters")
        if not text.isprintable():
            raise Unfit(field, text, "holds a character that is no text")
        return text

    def _role(self, cells: Sequence[Any]) -> str | None:
        role = self._text(cells, "role")
        if role is not None and role not in UNIT_OF_ROLE:
            raise Unfit("role", role, "no role that is known")
        return role

    def _unit(self, cells: Sequence[Any], priced: str) -> str | None:
        """The unit of the content, of which what a pack is called tells nothing."""
        word = self._text(cells, "unit")
        unit = None if word is None else unit_of(word)
        if word is not None and unit is None:
            raise Unfit("unit", word, "no unit that is known; nothing is converted")
        if unit == PACK and priced == "price_per_unit":
            raise Unfit("unit", word, "priced per unit, and the unit is a pack")
        return None if unit == PACK else unit

    def _split(self, cells: Sequence[Any]) -> bool:
        cell = self._cell(cells, "split") if "split" in self._places else None
        said = cell if isinstance(cell, bool) else cell is not None and yes_or_no(str(cell))
        if said is None:
            raise Unfit("split", cell, "neither yes nor no")
        return said

    def _check_currency(self, cells: Sequence[Any]) -> None:
        said = self._text(cells, "currency")
        if said is not None and said.casefold().rstrip(".") not in signs_of(self._currency):
            raise Unfit("currency", said, f"not the supplier's currency, {self._currency}")

    def _number(self, field: str, cell: Any) -> Decimal | None:
        if cell is None:
            return None
        try:
            if isinstance(cell, str):
                return numbers.parse(cell, self._mark, self._currency, self._doubtful)
            if isinstance(cell, int | float) and not isinstance(cell, bool):
                return numbers.from_cell(cell)
        except NotANumber as why:
            raise Unfit(field, cell, _reason(cell, why)) from None
        raise Unfit(field, cell, "not a number")

    def _above_nothing(self, field: str, cell: Any) -> Decimal | None:
        number = self._number(field, cell)
        if number is not None and not number:
            raise Unfit(field, cell, "must be more than 0")
        return number

    def _packs(self, cells: Sequence[Any]) -> int:
        cell = self._cell(cells, "min_packs")
        number = self._number("min_packs", cell)
        if number is None:
            return 1
        if number != number.to_integral_value() or not 1 <= number <= 1_000_000:
            raise Unfit("min_packs", cell, "not a whole number of packs from 1 on")
        return int(number)

    def _price(self, cells: Sequence[Any]) -> tuple[str, Decimal]:
        """The first kind of price that the row states, a net price before the others."""
        for field in self._prices:
            number = self._number(field, self._cell(cells, field))
            if number is not None:
                return field, number
        raise Unfit(self._prices[0], None, "no price")

    def _percent(self, cells: Sequence[Any]) -> tuple[Decimal, str | None, str | None]:
        """The row's own percentage, else its group's, else the list's, with where it came from."""
        cell, group = self._cell(cells, "percent"), self._text(cells, "discount_group")
        own = self._number("percent", cell.strip().removesuffix("%") if isinstance(cell, str) else cell)
        if own is not None and own > HUNDRED:
            raise Unfit("percent", cell, "more than 100 percent")
        if own is not None:
            return own, "item", group
        if group is not None and self._percents.groups:
            if group not in self._percents.groups:
                raise Unfit("discount_group", group, "the list's head has no percentage for this group")
            return self._percents.groups[group], "group", group
        if self._percents.overall is not None:
            return self._percents.overall, "list", group
        return Decimal(0), None, group


def _as_text(field: str, cell: Any) -> str:
    """A spreadsheet's whole number as a code is written; other things than text and numbers are refused."""
    if isinstance(cell, bool) or not isinstance(cell, int | float):
        raise Unfit(field, cell, "not text: a date, a formula or the like")
    return format(cell, ".15g")


def _reason(cell: Any, why: NotANumber) -> str:
    formula = isinstance(cell, str) and cell.lstrip().startswith(("=", "+", "@"))
    return "looks like a formula; formulas are not worked out" if formula else str(why)
