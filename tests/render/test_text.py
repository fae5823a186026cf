"""A quote printed in a terminal."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from service.pricing import price
from service.pricing.model import (
    Allowance,
    Gap,
    Hours,
    Need,
    Offer,
    PriceBook,
    PriceBreak,
    Priced,
    Product,
    Stage,
    Supplier,
    TaxRule,
    Terms,
    Uplift,
)
from service.render.text import WIDTH, quote_text
from tests.render.floors import takeoff

D = Decimal
SNAPSHOT = Path(__file__).with_name("quote.txt")


def priced() -> Priced:
    """Two lines of material, one delivery, one of labour, all invented."""
    book = PriceBook(
        date(2026, 3, 2),
        "EUR",
        (Supplier("s", "North yard", D("45.00")),),
        (Product("m", "membrane", "Membrane in rolls", "m2", {}),),
        (Offer("s", "m", D(5), (PriceBreak(1, D("250.00")),), "list-1"),),
    )
    terms = Terms(
        "t",
        "invented",
        uplifts={"default": Uplift("markup", D(20))},
        discount_percent=D(2),
        taxes=(TaxRule("sales tax", D("8.25")),),
        deposit_percent=D(30),
        stages=(Stage("start", D(40)), Stage("finish", D(30))),
        retention_percent=D(5),
        allowances=(Allowance("tile", "m2", D(32)),),
    )
    needs = Need("tile", "piece", D(70), area_m2=D("6.3")), Need("membrane", "m2", D("21.9"))
    return price(needs, [Hours("set_medium", "area", D("4.35"))], D("58.40"), book, terms)


def test_the_whole_quote_as_it_stands_on_the_screen() -> None:
    assert quote_text("Quote 2026-0001", takeoff(), priced()) == SNAPSHOT.read_text("utf-8")


def test_no_line_is_wider_than_the_screen() -> None:
    long = replace(takeoff(), cautions=("word " * 200,))
    lines = [replace(line, description="d" * 300, supplier_name="s" * 300) for line in priced().lines]
    text = quote_text("t", long, replace(priced(), lines=tuple(lines)))
    assert max(map(len, text.splitlines())) <= WIDTH


def test_the_printed_prices_add_up_to_the_printed_net() -> None:
    answer = priced()
    assert answer.totals is not None
    text = quote_text("t", takeoff(), answer)
    prices = [D(row.split()[-1].replace(",", "")) for row in _rows(text, "Materials", "Delivery", "Labour")]
    assert sum(prices) - answer.totals.discount == answer.totals.net
    assert f"{answer.totals.net:,}" in text


def _rows(text: str, *sections: str) -> list[str]:
    blocks = [block.splitlines() for block in text.split("\n\n")]
    return [row for block in blocks if block[0].split()[0] in sections for row in block[2:]]


def test_without_a_price_the_gaps_are_told() -> None:
    gaps = (Gap("grout", "no_supplier", "no supplier sells a fitting grout on the price date"),)
    text = quote_text("t", takeoff(), Priced("EUR", (), None, gaps))
    assert "! no supplier sells a fitting grout on the price date" in text
    assert "Totals" not in text


def test_control_characters_do_not_reach_the_terminal() -> None:
    text = quote_text("a\x1b[2Jb\x07\u202ec\r\nd", takeoff(), priced())
    assert text.splitlines()[0] == "a [2Jb c d"
    assert all(c.isprintable() or c == "\n" for c in text)
