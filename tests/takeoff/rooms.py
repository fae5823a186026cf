"""Example rooms that several tests share, and random ones. All are invented."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from hypothesis import strategies as st

from service.takeoff.labour import default_labour_table
from service.takeoff.room import (
    BareArea,
    Doorway,
    Existing,
    Flatness,
    Job,
    Membrane,
    Obstruction,
    Outline,
    Pattern,
    Ring,
    Room,
    Skirting,
    Substrate,
    Tile,
)
from service.trade.values import TradeValues, load_trade_values

ON = date(2026, 6, 1)
VALUES: TradeValues = load_trade_values("us", ON)
LABOUR = default_labour_table(VALUES, id="opening-rates", currency="USD")


def rectangle(length: float, width: float) -> Ring:
    """A rectangle from the origin, wall 0 along +x [mm]."""
    return ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


def walled(ring: Ring) -> Outline:
    """An outline with a wall along every edge."""
    return Outline(ring, walls=tuple(range(len(ring))))


DRY_RECTANGLE = Room(
    name="Utility room",
    shape=walled(rectangle(3015.0, 2109.0)),
    tile=Tile(300.0, 300.0),
    doorways=(Doorway(wall=0, offset=400.0, width=900.0, adjoining="carpet", adjoining_level=8.0),),
    substrate=Substrate("concrete_on_ground", flatness=Flatness(8.0, 3000.0)),
    origin="corner",
    skirting=Skirting(80.0),
)

WET_L = Room(
    name="Bathroom",
    shape=walled(
        ((0.0, 0.0), (3600.0, 0.0), (3600.0, 1500.0), (2000.0, 1500.0), (2000.0, 2700.0), (0.0, 2700.0))
    ),
    tile=Tile(100.0, 100.0, thickness=8.0),
    doorways=(Doorway(wall=0, offset=2500.0, width=800.0, adjoining="wood", adjoining_level=15.0),),
    obstructions=(
        Obstruction("column", outline=((900.0, 1800.0), (1150.0, 1800.0), (1150.0, 2050.0), (900.0, 2050.0))),
        Obstruction("drain", centre=(600.0, 700.0), diameter=110.0),
    ),
    exposure="wet",
    waterproof=True,
    substrate=Substrate("concrete_suspended", flatness=Flatness(4.0, 3000.0)),
    falls="point",
    origin="corner",
)

KITCHEN = Room(
    name="Kitchen",
    shape=Outline(rectangle(4200.0, 3100.0), walls=(0, 1, 3)),
    tile=Tile(600.0, 300.0),
    doorways=(
        Doorway(wall=0, offset=500.0, width=900.0, adjoining="tile", adjoining_level=14.0),
        Doorway(wall=3, offset=1000.0, width=800.0, adjoining="resilient", adjoining_level=4.0),
    ),
    pattern=Pattern("running_bond", offset=Fraction(1, 3)),
    substrate=Substrate("plywood_on_joists", flatness=Flatness(3.0, 3000.0), deflection=480.0),
    existing=Existing("resilient"),
    built_year=1975,
    heating="electric",
    membrane=Membrane("thick"),
    movement_joint="profile",
    origin="corner",
)

TERRACE = Room(
    name="Terrace",
    shape=Outline(rectangle(5000.0, 3000.0), walls=(0,)),
    tile=Tile(600.0, 600.0, thickness=10.0),
    doorways=(Doorway(wall=0, offset=1500.0, width=1800.0, adjoining="wood", adjoining_level=30.0),),
    exposure="exterior",
    waterproof=True,
    substrate=Substrate("exterior_slab", flatness=Flatness(3.0, 3000.0)),
    falls="linear",
    origin="corner",
)

BARE = Room(name="Hall", shape=BareArea(8.0, 11400.0), tile=Tile(300.0, 300.0))

ALL = (DRY_RECTANGLE, WET_L, KITCHEN, TERRACE, BARE)
JOB = Job(ALL)


def _ells(length: int, width: int, across: int, up: int) -> Ring:
    """A rectangle with its upper right corner taken out."""
    return (
        (0.0, 0.0),
        (float(length), 0.0),
        (float(length), float(width - up)),
        (float(length - across), float(width - up)),
        (float(length - across), float(width)),
        (0.0, float(width)),
    )


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    """Rectangles and L-shapes from 1.5 to 7 m, some with an open edge."""
    length, width = draw(st.integers(1500, 7000)), draw(st.integers(1500, 7000))
    ring = rectangle(float(length), float(width))
    if draw(st.booleans()):
        ring = _ells(length, width, draw(st.integers(300, length - 700)), draw(st.integers(300, width - 700)))
    open_edge = draw(st.none() | st.integers(0, len(ring) - 1))
    return Outline(ring, walls=tuple(edge for edge in range(len(ring)) if edge != open_edge))


@st.composite
def rooms(draw: st.DrawFn) -> Room:
    """Rooms of all exposures, substrates and usual tile, laid out or known by area only."""
    exposure = draw(st.sampled_from(("dry", "wet", "exterior")))
    length = draw(st.sampled_from((100.0, 200.0, 300.0, 600.0, 900.0)))
    width = draw(st.sampled_from((100.0, 200.0, 300.0, 600.0)))
    area = draw(st.integers(2, 60))
    bare = BareArea(float(area), 1000.0 * draw(st.integers(4, 9)) * area**0.5)
    return Room(
        name=draw(st.sampled_from(("Hall", "Bath", "Kitchen"))),
        shape=draw(outlines() | st.just(bare)),
        tile=Tile(length, width, material=draw(st.sampled_from(("ceramic", "porcelain", "stone")))),
        exposure=exposure,
        waterproof=exposure != "dry",
        substrate=Substrate(draw(st.sampled_from(("unknown", "concrete_on_ground", "plywood_on_joists")))),
        existing=draw(st.sampled_from((None, Existing("carpet"), Existing("tile"), Existing("resilient")))),
        built_year=draw(st.sampled_from((None, 1960, 2010))),
        heating=draw(st.sampled_from(("none", "water", "electric"))),
        falls=draw(st.sampled_from(("none", "point", "linear"))) if exposure != "dry" else "none",
        pattern=draw(st.sampled_from((Pattern(), Pattern("running_bond", offset=Fraction(1, 3))))),
        origin="corner",
        membrane=draw(st.sampled_from((Membrane(), Membrane("thick"), None)))
        if exposure == "dry"
        else Membrane(),
        skirting=draw(st.sampled_from((None, Skirting(80.0)))),
        movement_joint=draw(st.sampled_from(("sealant", "profile"))),
    )
