"""Rounding and sharing out in SQL and in Python give the same, halves and signs included."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as examples
from hypothesis import strategies as st
from sqlalchemy import Connection, text

from service.pricing.lines import plain_line
from service.pricing.model import Rounding, TaxRule, Terms, Uplift
from service.pricing.money import apportion, minor_unit, to_minor, to_step
from service.pricing.totals import total
from tests.pricing.goods import D

METHODS = {"half_up": ROUND_HALF_UP, "half_even": ROUND_HALF_EVEN}
BATCH = 50
AMOUNTS = st.decimals(-100_000, 100_000, places=5) | st.integers(-99_999, 99_999).map(
    lambda n: Decimal(n).scaleb(-3)  # many of these lie half-way
)
METHOD = st.sampled_from(sorted(METHODS))
on_this_database = examples(
    max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None
)
ROUND = text(
    "SELECT round_money(v, m, k) FROM unnest(:values ::numeric[], :minors ::int[], :kinds ::text[])"
    " WITH ORDINALITY AS asked (v, m, k, n) ORDER BY n"
)
STEP = text("SELECT round_to_step(:numerator, :denominator, :step, :method)")
SHARE = text("SELECT apportion(:total ::numeric, :weights ::numeric[], :minor)")


@on_this_database
@given(
    asked=st.lists(st.tuples(AMOUNTS, st.integers(0, 4), METHOD), min_size=BATCH, max_size=BATCH),
)
def test_sql_python_and_the_decimal_library_round_alike(
    connection: Connection, asked: list[tuple[Decimal, int, str]]
) -> None:
    values, minors, kinds = (list(column) for column in zip(*asked, strict=True))
    in_sql = connection.scalars(ROUND, {"values": values, "minors": minors, "kinds": kinds}).all()
    for (value, minor, method), found in zip(asked, in_sql, strict=True):
        library = value.quantize(Decimal(1).scaleb(-minor), METHODS[method])
        assert found == library == to_minor(value, Rounding(method, minor))  # type: ignore[arg-type]


@on_this_database
@given(
    numerator=AMOUNTS,
    denominator=st.decimals("0.01", 500, places=2),
    step=st.sampled_from(["0.01", "0.05", "1", "5"]).map(Decimal),
    method=METHOD,
)
def test_a_quotient_is_rounded_from_its_exact_value(
    connection: Connection, numerator: Decimal, denominator: Decimal, step: Decimal, method: str
) -> None:
    from fractions import Fraction

    asked = {"numerator": numerator, "denominator": denominator, "step": step, "method": method}
    exact = Fraction(numerator) / Fraction(denominator)
    assert connection.scalar(STEP, asked) == to_step(exact, step, Rounding(method))  # type: ignore[arg-type]


@on_this_database
@given(
    total=st.integers(-10_000, 10_000_000).map(lambda n: Decimal(n).scaleb(-2)),
    weights=st.lists(st.decimals(0, 5000, places=2) | st.just(Decimal(0)), max_size=20),
)
def test_shares_are_the_same_and_add_up(
    connection: Connection, total: Decimal, weights: list[Decimal]
) -> None:
    in_sql = connection.scalar(SHARE, {"total": total, "weights": weights, "minor": 2})
    assert in_sql == apportion(total, weights, minor_unit(Rounding()))
    assert sum(in_sql) == (total if weights else 0)


@pytest.mark.parametrize(
    ("value", "up", "even"), [("2.345", "2.35", "2.34"), ("-2.345", "-2.35", "-2.34"), ("0.005", "0.01", "0")]
)
def test_halves_by_hand(connection: Connection, value: str, up: str, even: str) -> None:
    rounded = text(
        "SELECT round_money(:v ::numeric, 2, 'half_up'), round_money(:v ::numeric, 2, 'half_even')"
    )
    assert tuple(connection.execute(rounded, {"v": value}).one()) == (Decimal(up), Decimal(even))


CHAIN = text("""
WITH given AS (
    SELECT place, kind, amount, percent, method FROM unnest(
        :kinds ::text[], :amounts ::numeric[], :percents ::numeric[], :methods ::text[]
    ) WITH ORDINALITY AS line (kind, amount, percent, method, place)
), held AS (
    SELECT given.*, amount + (apportion(round_money(sum(amount) OVER () * :contingency * 0.01, 2, :rounding),
        array_agg(amount) OVER (ORDER BY place ROWS BETWEEN UNBOUNDED PRECEDING AND UNBOUNDED FOLLOWING), 2)
    )[place] AS price FROM given
), raised AS (
    SELECT kind, sum(price) AS price, round_to_step(
        sum(price) * percent, CASE method WHEN 'margin' THEN 100 - percent ELSE 100 END, 0.01, :rounding
    ) AS uplift FROM held GROUP BY kind, percent, method
), asked AS (
    SELECT sum(price + uplift) AS price,
        coalesce(sum(price + uplift) FILTER (WHERE kind = 'labour'), 0) AS work
    FROM raised
), net AS (
    SELECT price - round_money(price * :discount * 0.01, 2, :rounding) AS net, price, work FROM asked
)
SELECT net, round_money((apportion(net, ARRAY[price - work, work], 2))[1] * :tax * 0.01, 2, :rounding) AS tax
FROM net
""")
PERCENT = st.decimals(0, 60, places=2)


@on_this_database
@given(
    lines=st.lists(
        st.tuples(st.sampled_from(["material", "labour"]), st.decimals(0, 5000, places=2)), min_size=1
    ),
    uplifts=st.tuples(PERCENT, st.sampled_from(["markup", "margin"])),
    percents=st.tuples(PERCENT, PERCENT, PERCENT),
    rounding=METHOD,
)
def test_a_quote_reckoned_in_sql_is_the_quote_of_pricing(
    connection: Connection,
    lines: list[tuple[str, Decimal]],
    uplifts: tuple[Decimal, str],
    percents: tuple[Decimal, Decimal, Decimal],
    rounding: str,
) -> None:
    """Contingency, markup or margin, discount and tax by the SQL functions alone: net and tax to the cent."""
    contingency, discount, tax = percents
    uplift = {"labour": Uplift(uplifts[1], uplifts[0])}  # type: ignore[arg-type]
    rule = Rounding(rounding)  # type: ignore[arg-type]
    terms = Terms(
        "t",
        "t",
        contingency_percent=contingency,
        uplifts={**uplift, "default": Uplift("markup", D("15"))},
        discount_percent=discount,
        taxes=(TaxRule("tax", tax, "materials"),),
        rounding=rule,
    )
    at_cost = [plain_line(kind, kind, kind, "h", D(1), cost, rule) for kind, cost in lines]  # type: ignore[arg-type]
    _, totals = total(at_cost, terms)
    by_kind = {"labour": uplifts, "material": (D("15"), "markup")}
    asked = {
        "kinds": [kind for kind, _ in lines],
        "amounts": [line.amount for line in at_cost],
        "percents": [by_kind[kind][0] for kind, _ in lines],
        "methods": [by_kind[kind][1] for kind, _ in lines],
        "contingency": contingency,
        "discount": discount,
        "tax": tax,
        "rounding": rounding,
    }
    assert tuple(connection.execute(CHAIN, asked).one()) == (totals.net, totals.tax)
