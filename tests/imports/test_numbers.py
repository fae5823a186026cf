"""Numbers of price lists, written by Python's own formatting and read back."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.quoting.imports.numbers import DecimalMark, NotANumber, from_cell, guess_mark, parse

FIGURES = st.decimals(0, Decimal("9999999999.9999"), places=4)
MARKS: list[tuple[DecimalMark, tuple[str, ...]]] = [
    (".", (",", " ", "'", "")),
    (",", (".", "\u00a0", "\u202f", "")),
]


@pytest.mark.parametrize(("mark", "groups"), MARKS)
@given(figure=FIGURES, place=st.integers(0, 3), sign=st.sampled_from(["", "$", "USD"]), before=st.booleans())
def test_what_was_written_is_read(
    mark: DecimalMark, groups: tuple[str, ...], figure: Decimal, place: int, sign: str, before: bool
) -> None:
    text = f"{figure:,f}".translate({ord(","): groups[place], ord("."): mark})
    text = f"{sign} {text}" if before else f"{text} {sign}"
    assert parse(text, mark, "USD") == figure


@given(figure=FIGURES.filter(lambda value: value % 1 != 0))
def test_the_mark_is_guessed_only_where_the_text_tells(figure: Decimal) -> None:
    """Four decimals tell; so does any text with both marks."""
    assert guess_mark([f"{figure:f}"]) == "."
    assert guess_mark([f"{figure:,f}".translate({ord(","): ".", ord("."): ","})]) == ","


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["1.234"], None),
        (["1.234", "12,5"], ","),
        (["1,234", "12"], None),
        (["0.125"], "."),
        (["1.234.567"], ","),
        (["12,50", "12.50"], None),
        (["1'234.50"], "."),
        (["12"], None),
    ],
)
def test_what_a_column_tells_of_its_mark(texts: list[str], mark: str | None) -> None:
    assert guess_mark(texts) == mark


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("NaN", "not a number"),
        ("inf", "not a number"),
        ("1e308", "not a number"),
        ("1E5", "not a number"),
        ("-3.50", "negative"),
        ("12,50", "decimal point"),
        ("1,23,456", "decimal point"),
        ("1.23456", "more than 4 decimals"),
        ("10000000000", "out of range"),
        ("9" * 41, "too long"),
        ("١٢", "not a number"),
        ("=1+1", "not a number"),
        ("12.50 GBP", "another currency"),
        ("€ 12.50", "another currency"),
        ("12.50 XYZ", "not a number"),
        ("", "not a number"),
        ("12.", "not a number"),
    ],
)
def test_what_is_no_figure_is_told(text: str, reason: str) -> None:
    with pytest.raises(NotANumber, match=reason):
        parse(text, ".", "USD")


@given(figure=st.decimals(0, 99_999_999, places=4))
def test_a_spreadsheets_number_is_the_one_that_was_typed(figure: Decimal) -> None:
    assert from_cell(float(figure)) == figure


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 1e308, -1.0, 1e-9, 1e10])
def test_a_cell_out_of_range_is_refused(value: float) -> None:
    with pytest.raises(NotANumber):
        from_cell(value)
