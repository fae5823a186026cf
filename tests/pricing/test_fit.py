"""A product fits by what it states, and only by that."""

from __future__ import annotations

import pytest

from service.pricing.fit import fits, meets, wanted
from service.pricing.model import Attribute, Condition
from tests.pricing.goods import D, need, product, words

MORTAR = words("classes", "A118.4", "C2")


@pytest.mark.parametrize(
    ("stated", "condition", "fit"),
    [
        (("A118.4", "A118.11"), MORTAR, True),
        (("C1",), MORTAR, False),
        ("C2", MORTAR, True),
        (None, MORTAR, False),
        (4.0, MORTAR, False),
        ((), MORTAR, False),
        (3.0, Condition("joint_min_mm", at_most=3.0), True),
        (3.1, Condition("joint_min_mm", at_most=3.0), False),
        (0.1 + 0.2, Condition("height_mm", at_most=0.3), True),
        (12.5, Condition("height_mm", at_least=12.2, at_most=14.0), True),
        (15.0, Condition("height_mm", at_least=12.2, at_most=14.0), False),
        (10.0, Condition("height_mm", at_least=12.2), False),
        ("12.5", Condition("height_mm", at_least=12.2), False),
        (None, Condition("height_mm"), False),
        ("any", Condition("colour"), True),
        (None, Condition("width_mm", at_least=1000, at_most=1000, if_stated=True), True),
        (1000.0, Condition("width_mm", at_least=1000, at_most=1000, if_stated=True), True),
        (1500.0, Condition("width_mm", at_least=1000, at_most=1000, if_stated=True), False),
    ],
)
def test_conditions(stated: Attribute | None, condition: Condition, fit: bool) -> None:
    assert meets(stated, condition) is fit


def test_role_and_unit_must_be_equal() -> None:
    asked = need("grout", "3", conditions=(Condition("joint_max_mm", at_least=3.0),))
    assert fits(product("g", "grout", joint_max_mm=15.0), asked)
    assert not fits(product("g", "sealant", joint_max_mm=15.0), asked)
    assert not fits(product("g", "grout", unit="l", joint_max_mm=15.0), asked)
    assert not fits(product("g", "grout"), asked)


def test_what_was_wanted_is_told_in_words() -> None:
    assert wanted([MORTAR, Condition("height_mm", at_least=12, at_most=D(14))]) == (  # type: ignore[arg-type]
        "classes A118.4 or C2; height_mm at least 12 and at most 14"
    )
    assert wanted([]) == "nothing in particular"
