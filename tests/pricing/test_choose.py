"""What is bought for each need, from whom, and why something cannot be bought."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pricing import price
from service.pricing.model import Allowance, Condition, Gap, Line, Need, PriceBook, Priced, Terms
from tests.pricing.goods import D, book, need, offer, product, supplier, words

C2 = words("classes", "C2")
ALLOWANCES = Terms(
    "t", "invented", allowances=(Allowance("tile", "m2", D("32.00")), Allowance("grout", "kg", D(6)))
)


def priced(book_: PriceBook, *needs: Need, terms: Terms | None = None) -> Priced:
    return price(needs, (), D(50), book_, terms or Terms("t", "invented"))


def materials(book_: PriceBook, *needs: Need, terms: Terms | None = None) -> list[Line]:
    answer = priced(book_, *needs, terms=terms)
    assert answer.gaps == ()
    return [line for line in answer.lines if line.kind == "material"]


def only_gap(book_: PriceBook, *needs: Need, terms: Terms | None = None) -> Gap:
    answer = priced(book_, *needs, terms=terms)
    assert (answer.lines, answer.totals) == ((), None)
    (gap,) = answer.gaps
    return gap


MORTARS = book(
    [product("a", "tile_mortar", classes=("C1",)), product("b", "tile_mortar", classes=("C1", "C2"))],
    [offer("a", "25", "9.00"), offer("b", "25", "14.00"), offer("b", "20", "10.00", supplier="south")],
)


def test_the_cheapest_fitting_product_and_supplier_is_bought() -> None:
    (line,) = materials(MORTARS, need("tile_mortar", "40", conditions=(C2,)))
    assert (line.product, line.supplier, line.packs, line.pack_size) == ("b", "south", 2, 20)
    assert (line.cost, line.amount, line.quantity) == (D("10.00"), D("20.00"), 40)
    (line,) = materials(MORTARS, need("tile_mortar", "41", conditions=(C2,)))
    assert (line.supplier, line.packs) == ("north", 2)  # 28.00 against three bags at 30.00


def test_needs_of_one_product_are_added_up_before_they_are_packed() -> None:
    wide = (words("classes", "C1", "C2"), Condition("pot_life_h", at_least=1))
    stock = book([product("b", "tile_mortar", classes=("C2",), pot_life_h=2.0)], [offer("b", "25", "14.00")])
    needs = (
        need("tile_mortar", "10", conditions=(C2,), rooms=("A",)),
        need("tile_mortar", "15", conditions=wide),
    )
    (line,) = materials(stock, *needs)
    assert (line.packs, line.rooms) == (1, ("A",))


def test_the_supplier_is_the_cheapest_for_the_sum() -> None:
    stock = book(
        [product("b", "primer", "l")],
        [offer("b", "1", "5.00"), offer("b", "10", "30.00", supplier="south")],
    )
    alike = [need("primer", "4", "l", rooms=(room,)) for room in ("A", "B")]
    (line,) = materials(stock, *alike)
    assert (line.supplier, line.packs, line.rooms) == ("south", 1, ("A", "B"))


def test_a_mix_of_pack_sizes_is_a_line_for_each() -> None:
    stock = book([product("m", "membrane", "m2")], [offer("m", "5", "80.00"), offer("m", "30", "400.00")])
    lines = materials(stock, need("membrane", "37.5", "m2"))
    assert [(line.packs, line.pack_size, line.amount) for line in lines] == [(2, 5, 160), (1, 30, 400)]


def test_ties_go_by_name() -> None:
    stock = book(
        [product("z", "primer", "l"), product("y", "primer", "l")],
        [offer(p, "5", "8.00", supplier=s) for p in "zy" for s in ("south", "north")],
    )
    (line,) = materials(stock, need("primer", "3", "l"))
    assert (line.product, line.supplier) == ("y", "north")


def test_nothing_is_bought_for_a_need_of_nothing() -> None:
    assert materials(MORTARS, need("tile_mortar", "0.0000000001"), need("primer", "0", "l")) == []


@pytest.mark.parametrize(
    ("asked", "reason", "says"),
    [
        (need("primer", "3", "l"), "no_supplier", "primer"),
        (need("tile_mortar", "3", conditions=(words("classes", "C2S1"),)), "no_fit", "classes C2S1"),
        (need("tile_mortar", "3", "l"), "no_fit", "counted in l"),
        (need("tile_mortar", "3", product="x"), "unknown_product", "product x"),
        (need("grout", "3", product="a"), "no_fit", "invented a"),
        (need("tile_mortar", "3", product="a", conditions=(C2,)), "no_fit", "classes C2"),
        (need("tile", "70", "piece"), "no_allowance", "tile"),
    ],
)
def test_gaps_name_the_role_and_say_why(asked: Need, reason: str, says: str) -> None:
    gap = only_gap(MORTARS, asked)
    assert (gap.role, gap.reason) == (asked.role, reason)
    assert says in gap.message


def test_a_chosen_product_that_nobody_sells_on_the_date() -> None:
    stock = book([product("a", "grout"), product("b", "grout")], [offer("b", "5", "20.00")])
    gap = only_gap(stock, need("grout", "3", product="a"))
    assert (gap.role, gap.reason) == ("grout", "no_supplier")
    assert "grout" in gap.message
    assert materials(stock, need("grout", "3", product="b"))[0].allowance is False


# One system for all that keeps the water out.
WET = ("membrane", "m2"), ("band", "m"), ("pipe_seal", "piece")


def wet_needs(**product_of: str) -> list[Need]:
    return [need(role, "4", unit, one_system=True, product=product_of.get(role)) for role, unit in WET]


def wet_book(systems: dict[str, tuple[str, ...]], parts: tuple[tuple[str, str], ...] = WET) -> PriceBook:
    goods = [
        (system, *part, cost)
        for system, costs in systems.items()
        for part, cost in zip(parts, costs, strict=True)
    ]
    sold = [(s, role, unit, cost) for s, role, unit, cost in goods if cost]
    return book(
        [product(f"{s}-{role}", role, unit, s or None) for s, role, unit, _ in sold],
        [offer(f"{s}-{role}", "1", cost) for s, role, _, cost in sold],
    )


def test_the_system_with_the_least_sum_is_bought_whole() -> None:
    stock = wet_book({"alpha": ("10", "1", "9"), "beta": ("11", "2", "3"), "": ("1", "1", "1")})
    assert [line.product for line in materials(stock, *wet_needs())] == [
        "beta-membrane",
        "beta-band",
        "beta-pipe_seal",
    ]


def test_a_system_that_lacks_a_part_is_not_mixed_with_another() -> None:
    stock = wet_book({"alpha": ("1", "1", ""), "beta": ("11", "2", "3")})
    assert {line.product for line in materials(stock, *wet_needs())} == {
        "beta-membrane",
        "beta-band",
        "beta-pipe_seal",
    }


def test_a_chosen_product_chooses_the_system() -> None:
    stock = wet_book({"alpha": ("10", "9", "9"), "beta": ("1", "1", "1")})
    found = materials(stock, *wet_needs(band="alpha-band"))
    assert {line.product for line in found} == {"alpha-membrane", "alpha-band", "alpha-pipe_seal"}


def test_without_a_whole_system_the_gap_says_which_part_is_missing_where() -> None:
    stock = wet_book({"alpha": ("1", "", "1"), "beta": ("1", "1", ""), "gamma": ("1", "", "")})
    gap = only_gap(stock, *wet_needs())
    assert (gap.role, gap.reason) == ("band", "no_system")
    for told in (
        "alpha has no fitting band",
        "beta has no fitting pipe_seal",
        "gamma has no fitting band, pipe_seal",
    ):
        assert told in gap.message


def test_parts_of_no_system_are_no_system() -> None:
    gap = only_gap(wet_book({"": ("1", "1", "1")}), *wet_needs())
    assert (gap.role, gap.reason) == ("membrane", "no_system")


def test_a_part_that_nobody_sells_is_named_before_systems_are_compared() -> None:
    gap = only_gap(wet_book({"alpha": ("1", "1", "")}), *wet_needs())
    assert (gap.role, gap.reason) == ("pipe_seal", "no_supplier")


@given(st.lists(st.tuples(*[st.integers(1, 30)] * 3), min_size=1, max_size=5))
def test_the_chosen_system_is_the_cheapest_of_all(costs: list[tuple[int, ...]]) -> None:
    stock = wet_book({f"s{i}": tuple(map(str, of_system)) for i, of_system in enumerate(costs)})
    total = sum((line.amount for line in materials(stock, *wet_needs())), D(0))
    assert total == min(sum(4 * cost for cost in of_system) for of_system in costs)


# Stated allowances.
def test_tile_by_its_measures_is_an_allowance_by_area() -> None:
    asked = need("tile", "70", "piece", area_m2=D("6.3"), rooms=("Bath",))
    (line,) = materials(MORTARS, asked, terms=ALLOWANCES)
    assert (line.amount, line.unit, line.quantity, line.cost) == (D("201.60"), "m2", D("6.3"), D("32.00"))
    assert (line.allowance, line.supplier, line.packs, line.rooms) == (True, None, None, ("Bath",))
    assert only_gap(MORTARS, need("tile", "70", "piece"), terms=ALLOWANCES).reason == "no_allowance"


def test_areas_of_rooms_with_the_same_tile_are_added() -> None:
    rooms = [need("tile", "10", "piece", area_m2=D(area)) for area in ("1.5", "2.5")]
    assert materials(MORTARS, *rooms, terms=ALLOWANCES)[0].amount == D("128.00")


def test_a_chosen_tile_is_bought_in_boxes() -> None:
    stock = book([product("t", "tile", "piece")], [offer("t", "11", "40.00")])
    (line,) = materials(stock, need("tile", "70", "piece", product="t"), terms=ALLOWANCES)
    assert (line.packs, line.quantity, line.allowance) == (7, 77, False)


def test_a_visible_role_is_stated_or_the_cheapest_with_the_choice_left_open() -> None:
    stock = book(
        [product("g", "grout"), product("e", "edge_profile", "m"), product("s", "sealant", "ml")],
        [offer("g", "5", "1.00"), offer("e", "2.5", "12.00"), offer("s", "310", "7.00")],
    )
    needs = need("grout", "3"), need("edge_profile", "4", "m"), need("sealant", "300", "ml")
    grout, edge, sealant = materials(stock, *needs, terms=ALLOWANCES)
    assert (grout.amount, grout.product, grout.allowance) == (D("18.00"), None, True)
    assert (edge.amount, edge.product, edge.allowance) == (D("24.00"), "e", True)
    assert "not chosen" in grout.note
    assert edge.note == grout.note
    assert (sealant.allowance, sealant.note) == (False, "")


# Delivery.
@pytest.mark.parametrize(("limit", "charge"), [(None, "35"), ("20.01", "35"), ("20.00", None), ("0", None)])
def test_each_supplier_delivers_once_and_free_from_its_limit_on(
    limit: str | None, charge: str | None
) -> None:
    stock = book(
        [product("a", "primer", "l"), product("b", "levelling_compound")],
        [offer("a", "5", "12.00"), offer("b", "25", "8.00")],
        supplier("north", "35", limit),
        supplier("south", "10"),
    )
    answer = priced(stock, need("primer", "3", "l"), need("levelling_compound", "20"))
    found = [(line.supplier, line.amount) for line in answer.lines if line.kind == "delivery"]
    assert found == ([] if charge is None else [("north", Decimal(charge))])


CABLE = book(
    [product("c", "heating_cable", "m2")],
    [
        *(offer("c", "1", "62.00"), offer("c", "5", "268.00")),
        *(offer("c", "5", "250.00", supplier="south"), offer("c", "7", "330.00", supplier="south")),
    ],
)


def cable(*areas: str) -> tuple[Need, ...]:
    return tuple(need("heating_cable", area, "m2", rooms=(area,), limits=(D(area),)) for area in areas)


def test_a_heating_cable_never_exceeds_its_room() -> None:
    """6.58 m2 take five and one and not seven, nor the cheaper five alone; two rooms do not share a set."""
    lines = materials(CABLE, *cable("6.58"))
    assert sorted((line.pack_size, line.packs, line.supplier) for line in lines) == [
        (1, 1, "north"),
        (5, 1, "north"),
    ]
    assert {line.note for line in lines} == {"Never cut: 0.58 m2 of 6.58 m2 are left without."}
    (line,) = materials(CABLE, *cable("2.9", "2.2"))
    assert (line.pack_size, line.packs) == (1, 4)


def test_as_few_heating_cables_as_can_be() -> None:
    """9.51 m2 are 5 + 2 + 2 and not 5 + 1 + 1 + 1 + 1, though single metres are cheaper."""
    sold = [offer("c", "1", "20.00"), offer("c", "2", "90.00"), offer("c", "5", "268.00")]
    lines = materials(book([product("c", "heating_cable", "m2")], sold), *cable("9.51"))
    assert sorted((line.pack_size, line.packs) for line in lines) == [(2, 2), (5, 1)]


def test_a_room_too_small_for_every_heating_cable() -> None:
    gap = only_gap(CABLE, *cable("0.8"))
    assert (gap.reason, gap.message) == (
        "no_fit",
        "no heating_cable on sale is as small as 0.8 m2, and it is never cut",
    )
