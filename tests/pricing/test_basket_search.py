"""What bounds and the assignment model decide, against every choice of options there is."""

from __future__ import annotations

import random
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import product as every
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from service.pricing.basket import core, leftover, tables
from service.pricing.basket.problem import Bill, Option, Part, Problem, Seller, bill
from service.pricing.basket.search import Outcome, solve

SELLERS = st.builds(
    Seller,
    delivery=st.integers(0, 80),
    free_over=st.none() | st.integers(0, 300),
    carry_in=st.sampled_from([0, 0, 15]),
    minimum=st.sampled_from([0, 0, 60, 150, 400]),
    weight=st.just(1),
)
WEIGHTS = (20, 21), (1000, 1037), (1000, 1041), (10_000, 10_333)
"""Of preferred sellers and of others, as for a tolerated extra of 5, 3.7, 4.1 and 3.33 percent."""


@st.composite
def problems(draw: st.DrawFn, most_lots: int = 4) -> Problem:
    """Lots of one seller or of two, of a system or of none."""
    sellers = draw(st.lists(SELLERS, min_size=1, max_size=draw(st.sampled_from([4, 12]))))
    count = len(sellers)
    if draw(st.booleans()):
        weights = draw(st.sampled_from(WEIGHTS))
        sellers = [s._replace(weight=draw(st.sampled_from(weights))) for s in sellers]
    systems = draw(st.integers(1, 2))
    lots = []
    for _ in range(draw(st.integers(1, most_lots))):
        wet = draw(st.booleans())
        size = draw(st.integers(1, 5))
        lots.append(tuple(draw(options(number, count, systems if wet else 0)) for number in range(size)))
    return Problem(tuple(lots), tuple(sellers), draw(st.none() | st.integers(1, 3)))


@st.composite
def options(draw: st.DrawFn, number: int, sellers: int, systems: int) -> Option:
    used = draw(st.lists(st.integers(0, sellers - 1), min_size=1, max_size=2, unique=True))
    goods = [draw(st.integers(1, 120)) for _ in used]
    freight = [draw(st.sampled_from([0, 0, 3])) for _ in used]
    parts = (Part(s, g + f, g) for s, g, f in zip(used, goods, freight, strict=True))
    return Option(number, tuple(parts), draw(st.integers(0, systems - 1)) if systems else None)


def ranked(problem: Problem) -> list[int]:
    """What every choice that keeps to the limits is judged at, the best first."""
    told = (bill(problem, choice) for choice in every(*problem.lots))
    return sorted(one.judged for one in told if isinstance(one, Bill))


def fresh(problem: Problem) -> Outcome:
    solved: Any = solve.__wrapped__
    outcome: Outcome = solved(problem)
    return outcome


def check(problem: Problem) -> None:
    judged, outcome = ranked(problem), fresh(problem)
    if not judged:
        assert outcome.impossible
        return
    assert outcome.choice is not None
    assert (outcome.judged, outcome.least) == (judged[0], judged[0])
    told = bill(problem, outcome.choice)
    assert isinstance(told, Bill)
    assert told.judged == judged[0]
    assert outcome.second_proven
    assert (outcome.second is None) == (len(judged) == 1)
    if len(judged) > 1:
        assert outcome.second is not None
        assert (outcome.second.judged, outcome.second.choice != outcome.choice) == (judged[1], True)


WAYS = {"enumeration": (tables, "MOST_SETS", 1023), "model": (tables, "MOST_SETS", 0)}
WAYS["model of the rest"] = (leftover, "WIDTHS", (0,))


@pytest.mark.parametrize("way", WAYS)
def test_bounds_or_model_find_the_best_and_the_second(way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(*WAYS[way])
    examples(max_examples=40)(given(problems())(check))()


@contextmanager
def ends_within(seconds: float) -> Iterator[None]:
    """The process dies where the block needs more seconds of the processor, rather than to go on for ever."""
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)


def crowded(seed: int) -> Problem:
    """Few lots of many sellers, some of them preferred, one or two of them an option."""
    made = random.Random(seed)
    dear = made.choice([1, 7, 1000])
    sellers = tuple(
        Seller(
            delivery=made.randint(0, 80) * dear,
            free_over=made.choice([None, made.randint(0, 300) * dear]),
            carry_in=made.choice([0, 0, 15 * dear]),
            minimum=made.choice([0, 0, 0, 60 * dear, 150 * dear]),
            weight=made.choice([1000, 1037]),
        )
        for _ in range(made.choice([9, 10, 12]))
    )

    def option(number: int) -> Option:
        used = made.sample(range(len(sellers)), made.choice([1, 1, 1, 2]))
        goods = [made.randint(1, 120) * dear for _ in used]
        return Option(number, tuple(Part(s, g + 3 * dear, g) for s, g in zip(used, goods, strict=True)))

    sizes = [made.randint(1, 5) for _ in range(made.randint(2, 5))]
    return Problem(tuple(tuple(map(option, range(size))) for size in sizes), sellers)


@pytest.mark.parametrize("seed", [3, 6])
def test_many_sellers_of_uneven_weights_come_to_an_end(seed: int) -> None:
    with ends_within(5):
        check(crowded(seed))


def test_a_search_cut_short_tells_how_far_it_may_be_off(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "MOST_SETS", 0)
    monkeypatch.setattr(core, "MOST_STEPS", 0)

    def bounded(problem: Problem) -> None:
        judged, outcome = ranked(problem), fresh(problem)
        if outcome.choice is None:
            assert outcome.impossible == (not judged)
            return
        assert outcome.least <= judged[0] <= outcome.judged
        assert outcome.method == ("model" if outcome.least == outcome.judged else "model_limit")
        if outcome.second_proven and len(judged) > 1:
            assert outcome.second is not None
            assert outcome.second.judged == judged[1]

    examples(max_examples=60)(given(problems())(bounded))()


@pytest.mark.full
@pytest.mark.parametrize("way", WAYS)
def test_a_thousand_problems(way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(*WAYS[way])
    examples(max_examples=1000)(given(problems(5))(check))()


@examples(max_examples=20)
@given(problems())
def test_the_same_problem_gives_the_same_answer(problem: Problem) -> None:
    assert repr(fresh(problem)) == repr(fresh(problem))


def test_one_choice_that_plainly_wins_needs_no_model(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError

    monkeypatch.setattr("service.pricing.basket.search.Core", never)
    lot = tuple(Option(n, (Part(n, cost, cost),)) for n, cost in enumerate((100, 130, 140)))
    sellers = (Seller(50, 900), Seller(20, 600), Seller(30))
    outcome = fresh(Problem((lot,) * 5, sellers))
    assert (outcome.method, outcome.judged) == ("bound", 550)
    assert outcome.second is not None
    assert (outcome.second.judged, outcome.second_proven) == (530 + 50 + 20, True)
