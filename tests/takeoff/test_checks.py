"""Tile checks against the figures of published standards."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.takeoff import checks, joint_checks, piece_checks, take_off
from service.takeoff.answer import Cuts, Finding
from service.takeoff.room import Job, Pattern, Room, Substrate, Tile, Zone
from service.trade.values import TradeValues
from tests.takeoff.floors import BY_STANDARDS, DE, UK, US, layout, room, shape, verdicts
from tests.takeoff.rooms import LABOUR

INCH = 25.4


def found(floor: Room, values: TradeValues = US, **laid: Any) -> dict[str, Finding]:
    findings = checks.take(floor, shape(floor), layout(**laid), values).findings
    assert verdicts(findings)
    return {finding.rule: finding for finding in findings}


def bond(offset: Fraction, **said: Any) -> Room:
    return room(pattern=Pattern("running_bond", offset=offset), **said)


@pytest.mark.parametrize(
    ("values", "edge", "joint", "expected"),
    [
        (US, 300, 1.6, "pass"),  # ANSI A108.02-4.3.8: 1/16 in
        (US, 300, 1.5, "condition"),
        (UK, 300, 3, "pass"),  # NHBC Standards 9.3.5
        (UK, 300, 2.9, "condition"),
        (DE, 100, 2, "pass"),  # common practice
        (DE, 200, 2, "condition"),
        (DE, 600, 4, "pass"),
        (DE, 600, 3, "condition"),
    ],
)
def test_least_joint(values: TradeValues, edge: float, joint: float, expected: str) -> None:
    assert found(room(tile=Tile(edge, edge), joint=joint), values)["joint"].verdict == expected


def test_joint_and_scatter() -> None:
    """ANSI A108.02-4.3.8: three times the scatter, so 1/16 in wants 3/16 in."""
    assert joint_checks.scatter_taken_mm(3 / 16 * INCH, US) == pytest.approx(INCH / 16)


@pytest.mark.parametrize(
    ("length", "width", "offset", "expected"),
    [
        # ANSI A108.02-4.3.8: with a side over 15 in at most 33 %.
        (24 * INCH, 12 * INCH, Fraction(1, 2), "condition"),
        (24 * INCH, 12 * INCH, Fraction(1, 3), "pass"),
        (24 * INCH, 12 * INCH, Fraction(2, 3), "pass"),
        (24 * INCH, 12 * INCH, Fraction(2, 5), "condition"),
        (15 * INCH, 15 * INCH, Fraction(1, 2), "pass"),
        (12 * INCH, 12 * INCH, Fraction(1, 2), "pass"),
    ],
)
def test_running_bond_offset(length: float, width: float, offset: Fraction, expected: str) -> None:
    assert found(bond(offset, tile=Tile(length, width)))["offset"].verdict == expected


def test_the_most_that_long_tile_is_shifted() -> None:
    """33 % of 24 in are 7.92 in, 201 mm."""
    message = found(bond(Fraction(1, 2), tile=Tile(24 * INCH, 12 * INCH)))["offset"].message
    assert f"{7.92 * INCH:.0f} mm" in message
    assert "mock-up" in message


@given(st.fractions(-3, 3))
def test_offset_is_the_smaller_lap(shift: Fraction) -> None:
    lap = joint_checks.effective_offset(shift)
    assert 0 <= lap <= Fraction(1, 2)
    assert lap == joint_checks.effective_offset(-shift) == joint_checks.effective_offset(shift + 1)


@pytest.mark.parametrize(("joint", "expected"), [(3, "condition"), (3.175, "condition"), (4.7625, "pass")])
def test_joint_of_a_running_bond_of_long_tile(joint: float, expected: str) -> None:
    """ANSI A108.02-4.3.8: 1/8 in rectified, 3/16 in calibrated."""
    assert found(bond(Fraction(1, 3), tile=Tile(600, 300), joint=joint))["bond_joint"].verdict == expected


def test_stack_bond_is_not_asked_for_an_offset() -> None:
    assert not {"offset", "bond_joint"} & found(room()).keys()


@pytest.mark.parametrize(
    ("tile", "expected"),
    [
        (Tile(50, 50, 6), "pass"),  # common practice: 2 x 2 in, 5.5 mm
        (Tile(49, 100, 6), "condition"),
        (Tile(1000, 1000, 5.5), "pass"),
        (Tile(1000, 1000, 5), "condition"),
    ],
)
def test_tile_on_membrane(tile: Tile, expected: str) -> None:
    assert found(room(tile=tile))["tile_on_membrane"].verdict == expected
    assert "tile_on_membrane" not in found(room(tile=tile, membrane=None))


@pytest.mark.parametrize(
    ("tile", "told"),
    [
        (Tile(5000, 5000), True),
        (Tile(1600, 3200, 6), False),  # from memory: the largest panels that are pressed
        (Tile(1600, 3201, 6), True),
    ],
)
def test_a_tile_larger_than_any_known(tile: Tile, told: bool) -> None:
    size = found(room(tile=tile)).get("tile_size")
    assert (size is not None and size.verdict == "condition") is told


@pytest.mark.parametrize(
    ("tile", "told"),
    [
        # NIOSH, from memory: 23 kg. By hand at 2350 kg/m3: 8.5, 22.8 and 25.4 kg; stone of 2700: 65.6 kg.
        (Tile(600, 600, 10), False),
        (Tile(900, 900, 12), False),
        (Tile(1200, 900, 10), True),
        (Tile(900, 900, 30, "stone"), True),
    ],
)
def test_a_tile_too_heavy_for_one(tile: Tile, told: bool) -> None:
    weight = found(room(tile=tile)).get("tile_weight")
    assert (weight is not None and weight.verdict == "condition") is told


def test_the_weight_of_a_tile_is_told() -> None:
    assert "66 kg" in found(room(tile=Tile(900, 900, 30, "stone")))["tile_weight"].message


@pytest.mark.parametrize(
    ("joint", "warpage", "material", "allowed"),
    [
        # ANSI A108.02-4.3.7: 1/32 in, from 1/4 in joints 1/16 in, and the warpage; stone 1/32 in.
        (3, 0.5, "porcelain", 1.29375),
        (6.35, 0, "ceramic", 1.5875),
        (6.35, 0.5, "stone", 0.79375),
    ],
)
def test_lippage(joint: float, warpage: float, material: Any, allowed: float) -> None:
    assert checks.lippage_mm(joint, warpage, material, US) == pytest.approx(allowed)


@pytest.mark.parametrize(
    ("said", "share"),
    [
        # ANSI A108.5: 80 % dry, 95 % wet and exterior; stone by practice.
        ({}, "80%"),
        ({"exposure": "wet"}, "95%"),
        ({"exposure": "exterior"}, "95%"),
        ({"tile": Tile(300, 300, material="stone")}, "95%"),
        ({"zones": (Zone(((0, 0), (900, 0), (900, 900), (0, 900)), "wet"),)}, "95%"),
    ],
)
def test_contact(said: dict[str, Any], share: str) -> None:
    assert share in found(room(**said))["contact"].message


@pytest.mark.parametrize(
    ("values", "exposure", "figure"),
    [
        (US, "wet", "0.42"),  # ANSI A326.3
        (US, "exterior", "0.55"),
        (UK, "wet", "36"),  # from memory
        (DE, "wet", "class B"),  # from memory
    ],
)
def test_slip(values: TradeValues, exposure: Any, figure: str) -> None:
    slip = found(room(exposure=exposure), values)["slip"]
    assert slip.verdict == "condition"
    assert figure in slip.message
    dry = found(room(), values)["slip"]
    assert (dry.verdict, slip.asks, dry.asks) == ("pass", "slip", "")


def test_outdoor_tile_must_stand_frost() -> None:
    """ISO 13006 group BIa: 0.5 % (from memory)."""
    assert "0.5 %" in found(room(exposure="exterior"))["frost"].message
    assert "frost" not in found(room(exposure="wet"))


def test_balanced_cuts() -> None:
    """ANSI A108.02-4.3.2's balance: a 24 in tile and 1.5 in over make two of 12.75 in."""
    assert piece_checks.balanced_cut_mm(24, 1.5) == 12.75


@pytest.mark.parametrize(("piece", "expected"), [(150, "pass"), (149.9, "condition"), (51, "condition")])
def test_narrowest_piece(piece: float, expected: str) -> None:
    """ANSI A108.02-4.3.1 and 4.3.2: usually no cut under half a tile."""
    assert found(room(), narrowest_piece_mm=piece)["narrowest_piece"].verdict == expected


def test_a_narrow_piece_says_what_balancing_gives() -> None:
    assert "176 mm" in found(room(), narrowest_piece_mm=51)["narrowest_piece"].message
    long = room(tile=Tile(600, 300))
    assert "shared out" not in found(long, narrowest_piece_mm=51)["narrowest_piece"].message


def test_no_cut_piece_no_word() -> None:
    assert not {"narrowest_piece", "slivers", "notches"} & found(room()).keys()


def test_slivers_and_notches() -> None:
    told = found(room(), unlaid_slivers=3, cuts=Cuts(notch_l=2, notch_u=1))
    assert told["slivers"].verdict == "condition"
    assert told["slivers"].message.startswith("Pieces under 10 mm that are not laid: 3;")
    assert told["notches"].verdict == "pass"
    assert "Notches in the tile: 3." in told["notches"].message


@pytest.mark.parametrize("standards", sorted(BY_STANDARDS))
def test_plain_tile_in_a_plain_room_passes(standards: str) -> None:
    plain = room(joint=4)
    assert {f.verdict for f in found(plain, BY_STANDARDS[standards]).values()} == {"pass"}


def test_what_nobody_said_of_the_tile_is_told() -> None:
    """It is printed; where a floor spans its stiffness hangs on the material, which is then accepted."""
    tile = Tile(300, 300, assumed=("thickness", "material"))
    for kind, accepted in (("concrete_on_ground", False), ("plywood_on_joists", True)):
        floor = room(tile=tile, substrate=Substrate(kind))  # type: ignore[arg-type]
        told = found(floor)
        assert told["tile_thickness"].asks == "tile_thickness"
        assert (told["tile_material"].asks, told["tile_material"].accept) == ("tile_material", accepted)
        answer = take_off(Job((floor,)), US, LABOUR)
        assert sum("Tile of which no" in said for said in answer.assumptions) == 2
    assert {"tile_thickness", "tile_material"}.isdisjoint(found(room()))
