"""Invented floors about which there is much to say: drawn at random with a fixed seed, all small."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from random import Random
from typing import get_args

from service.takeoff import take_off
from service.takeoff.answer import Finding, Takeoff
from service.takeoff.labour import default_labour_table
from service.takeoff.room import (
    BareArea,
    Doorway,
    Existing,
    Flatness,
    Job,
    Membrane,
    Moisture,
    Obstruction,
    Outline,
    Pattern,
    Room,
    Skirting,
    Standards,
    Substrate,
    SubstrateKind,
    Tile,
    Zone,
)
from service.trade import load_trade_values
from tests.render.offers import DAY

KINDS: tuple[SubstrateKind, ...] = get_args(SubstrateKind)
COUNTRIES: tuple[Standards, ...] = ("us", "uk", "de")
ROOMS = 13


@cache
def takeoff_with_findings(standards: Standards) -> Takeoff:
    """One room of each kind of ground; everything else differs from country to country."""
    draw, values = Random(standards), load_trade_values(standards, DAY)
    rooms = tuple(floor_with_much_to_say(draw, number) for number in range(ROOMS))
    labour = default_labour_table(values, id="rates", currency="EUR")
    return take_off(Job(rooms, standards), values, labour)


def findings_told() -> Iterator[Finding]:
    """What documents print of these floors."""
    for standards in COUNTRIES:
        for room in takeoff_with_findings(standards).rooms:
            yield from (finding for finding in room.findings if finding.verdict != "pass")


def floor_with_much_to_say(draw: Random, number: int) -> Room:
    bare = number == ROOMS - 1
    exposure = draw.choice(("dry", "wet", "exterior"))
    return Room(
        f"Room {number}",
        BareArea(6.0, 10000.0) if bare else _outline(draw),
        draw.choice(TILES),
        doorways=() if bare else (_doorway(draw),),
        obstructions=() if bare else _drain(draw),
        exposure=exposure,
        zones=() if bare or exposure != "dry" else _zone(draw),
        substrate=_substrate(draw, KINDS[number % len(KINDS)]),
        existing=draw.choice(
            (None, *(Existing(covering, out) for covering in COVERINGS for out in (True, False)))
        ),
        built_year=draw.choice((None, 1960, 2010)),
        heating=draw.choice(("none", "electric", "water")),
        falls="none" if bare else draw.choice(("none", "point", "linear")),
        pattern=draw.choice((Pattern(), Pattern("running_bond", offset=Fraction(1, 2)))),
        origin="corner",
        joint=draw.choice((1.0, 3.0)),
        perimeter_joint=draw.choice((0.0, 3.0, 10.0)),
        min_piece=draw.choice((10.0, 80.0)),
        membrane=draw.choice((None, Membrane(), Membrane("thick"))),
        waterproof=draw.choice((True, False)),
        sealed_zones_only=draw.choice((True, False)),
        skirting=draw.choice((None, Skirting(80.0), Skirting(700.0))),
        choices=(("edge_profile", "chosen"), ("movement_joint_profile", "chosen")),
    )


COVERINGS = ("carpet", "resilient", "tile", "wood", "laminate")
TILES = (
    Tile(300, 300),
    Tile(600, 600, 20.0, "stone"),
    Tile(1200, 200, 4.0),
    Tile(48, 48, 4.0),
    Tile(3300, 1600, 6.0),
)


def _outline(draw: Random) -> Outline:
    length, width = draw.choice((1500.0, 3300.0)), draw.choice((1200.0, 2600.0))
    ring = ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
    return Outline(ring, walls=draw.choice(((0, 1, 2, 3), (0, 1, 2))))


def _doorway(draw: Random) -> Doorway:
    covering = draw.choice((None, "carpet", "tile", "wood"))
    return Doorway(0, 200, 800, covering, draw.choice((None, -40.0, 0.0, 9.0, 90.0)))


def _drain(draw: Random) -> tuple[Obstruction, ...]:
    return draw.choice(((), (Obstruction("drain", None, (600.0, 600.0), 110.0),)))


def _zone(draw: Random) -> tuple[Zone, ...]:
    ring = ((0.0, 0.0), (900.0, 0.0), (900.0, 900.0), (0.0, 900.0))
    return draw.choice(((), (Zone(ring, "wet"),)))


def _substrate(draw: Random, kind: SubstrateKind) -> Substrate:
    readings = (Moisture("rh", 99.0), Moisture("cm", 2.5), Moisture("mver", 9.0), Moisture("wood", 18.0))
    return Substrate(
        kind,
        flatness=draw.choice((None, Flatness(12.0, 2000.0))),
        moisture=draw.choice((None, None, *readings)),
        age_days=draw.choice((None, 1.0, 10.0)),
        thickness=draw.choice((None, 12.0)),
        joist_spacing=draw.choice((None, 900.0)),
        span=draw.choice((None, 3600.0)),
        deflection=draw.choice((None, 250.0)),
        beneath=draw.choice((None, *KINDS)),
        bonded=draw.choice((None, False)),
    )
