"""The totals of many quotes at once are those of `total` for each, to the minor unit."""

from __future__ import annotations

from dataclasses import replace
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pricing.lines import DAY_WORK, plain_line
from service.pricing.many import KINDS, UNCHARGED, ManyLines, TooLarge, total_each, total_many
from service.pricing.model import DayWork, Line, Rounding, Stage, TaxRule, Terms, Totals, Uplift
from service.pricing.terms import GROUPS
from service.pricing.totals import total
from tests.pricing.test_totals import TERMS, lines_at_cost

RATES = ("Tiler", "Helper")
NAMES = sorted({*GROUPS.values(), "labour", "other", DAY_WORK})
LISTS = ("taxes", "stages")


def as_arrays(quotes: list[list[Line]], terms: Terms) -> ManyLines:
    lines, minor = [line for quote in quotes for line in quote], terms.rounding.minor
    return ManyLines(
        quotes=np.array([len(quote) for quote in quotes]),
        kinds=np.array([KINDS.index(line.kind) for line in lines]),
        groups=np.array([NAMES.index(line.group) for line in lines]),
        amounts=np.array([int(line.amount.scaleb(minor)) for line in lines]),
        charged=np.array([charged(line, terms) for line in lines]),
        names=NAMES,
    )


def charged(line: Line, terms: Terms) -> int:
    """Hours times their rate, halves of a minor unit by the rule of the terms."""
    hourly = terms.hourly_charge if line.group == "labour" else None
    if line.group == DAY_WORK:
        hourly = next(rate.hourly_price for rate in terms.day_work if rate.name == line.note)
    if hourly is None:
        return UNCHARGED
    half = ROUND_HALF_EVEN if terms.rounding.method == "half_even" else ROUND_HALF_UP
    return int((line.quantity * hourly).scaleb(terms.rounding.minor).quantize(Decimal(1), half))


def check(quotes: list[list[Line]], terms: Terms) -> None:
    minor = terms.rounding.minor
    many = total_many(as_arrays(quotes, terms), terms)
    each = total_each(as_arrays(quotes, terms), terms)
    assert [*each.prices] == [*many.prices]
    assert {name: [*values] for name, values in each.sums.items()} == {
        name: [*values] for name, values in many.sums.items()
    }
    ends = np.cumsum([len(quote) for quote in quotes])
    for place, (quote, end) in enumerate(zip(quotes, ends, strict=True)):
        lines, totals = total(quote, terms)
        prices = many.prices[end - len(quote) : end]
        assert [int(line.price.scaleb(minor)) for line in lines[: len(quote)]] == list(prices)
        assert told(totals, minor) == {
            **{name: int(values[place]) for name, values in many.sums.items()},
            "taxes": [(int(base[place]), int(amount[place])) for base, amount in many.taxes],
            "stages": [int(amounts[place]) for amounts in many.stages],
        }


def told(totals: Totals, minor: int) -> dict[str, object]:
    sums = {name: getattr(totals, name) for name in totals.__slots__ if name not in LISTS}
    return {
        **{name: int(value.scaleb(minor)) for name, value in sums.items()},
        "taxes": [(int(t.base.scaleb(minor)), int(t.amount.scaleb(minor))) for t in totals.taxes],
        "stages": [int(payment.amount.scaleb(minor)) for payment in totals.stages],
    }


@given(quotes=st.lists(lines_at_cost(), min_size=1, max_size=6), terms=TERMS)
def test_any_quotes_by_any_terms(quotes: list[list[Line]], terms: Terms) -> None:
    check(quotes, terms)


def drawn_terms(random: Random) -> Terms:
    percent = lambda most: Decimal(random.randint(0, most * 100)).scaleb(-2)  # noqa: E731
    groups = random.sample([*NAMES, "default"], random.randint(0, 6))
    method = random.choice(("markup", "margin"))
    taxes = [
        TaxRule("tax", percent(25), base, random.random() < 0.3) for base in ("materials", "labour", "all")
    ]
    return Terms(
        id="t",
        name="invented",
        hourly_charge=random.choice((None, Decimal(random.randint(0, 20_000)).scaleb(-2))),
        day_work=tuple(DayWork(name, Decimal(random.randint(1, 99_999)).scaleb(-3)) for name in RATES),
        contingency_percent=percent(10),
        uplifts={group: Uplift(method, percent(60)) for group in groups},
        discount_percent=percent(15),
        minimum_charge=random.choice((None, Decimal("750.005"))),
        taxes=tuple(random.sample(taxes, random.randint(0, 3))),
        buyer=random.choice(("consumer", "business", None)),
        deposit_percent=percent(40),
        stages=random.choice(((), (Stage("a", Decimal("33.33")), Stage("b", Decimal("26.67"))))),
        retention_percent=percent(10),
        rounding=Rounding(
            random.choice(("half_up", "half_even")),
            random.choice((0, 2, 3)),
            random.choice((None, Decimal("0.05"), Decimal("7"))),
            random.choice(("total", "line")),
        ),
    )


def drawn_quote(random: Random, rounding: Rounding) -> list[Line]:
    roles = [("material", role) for role in (*GROUPS, "disposal") if role != "delivery"]
    kinds = random.choices(
        [*roles, ("delivery", "delivery"), ("labour", "grind"), ("labour", DAY_WORK)], k=random.randint(1, 25)
    )
    notes = random.choices(RATES, k=len(kinds))
    hours = [Decimal(random.randint(1, 4_000)).scaleb(-2) for _ in kinds]
    costs = [Decimal(random.choice((0, random.randint(0, 9_000_000)))).scaleb(-4) for _ in kinds]
    lines = [
        plain_line(
            kind,
            role,
            role,
            "piece",
            time if kind == "labour" else Decimal(random.randint(1, 40)),
            cost,
            rounding,
        )
        for (kind, role), cost, time in zip(kinds, costs, hours, strict=True)
    ]
    return [
        replace(line, group=DAY_WORK, note=note) if line.role == DAY_WORK else line
        for line, note in zip(lines, notes, strict=True)
    ]


def prove(count: int, seed: int) -> None:
    random = Random(seed)
    for _ in range(count // 20):
        terms = drawn_terms(random)
        check([drawn_quote(random, terms.rounding) for _ in range(20)], terms)


def test_two_hundred_random_quotes() -> None:
    prove(200, seed=1)


@pytest.mark.full
def test_ten_thousand_random_quotes() -> None:
    prove(10_000, seed=2)


def test_figures_beyond_64_bits_are_refused_and_not_wrapped() -> None:
    line = plain_line("material", "tile", "tile", "piece", Decimal(1), Decimal(10) ** 14, Rounding())
    terms = Terms("t", "invented", discount_percent=Decimal("12.345"))
    lines = as_arrays([[line, replace(line)]], terms)
    with pytest.raises(TooLarge):
        total_many(lines, terms)
