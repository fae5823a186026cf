"""Invented offers for documents: real take-offs of small rooms, priced by invented figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cache
from itertools import cycle, islice

from service.pricing.lines import plain_line
from service.pricing.model import Line, Priced, Rounding, Stage, TaxRule, Terms, Uplift
from service.pricing.totals import total
from service.render.document import Address, Offer, Recipient, Sender
from service.takeoff import take_off
from service.takeoff.answer import Takeoff
from service.takeoff.labour import default_labour_table
from service.takeoff.room import Doorway, Job, Obstruction, Outline, Room, Skirting, Tile
from service.trade import load_trade_values

D = Decimal
DAY = date(2026, 3, 2)
SECRET = "Supplier that no customer knows"

SENDER = Sender(
    name="Invented Floors",
    address=Address(("Musterhof 12",), "00000", "Musterstadt", "", "DE"),
    contact_name="Robin Example",
    email="office@example.com",
    tax_number="DE000000000",
    bank_details=("Example Bank", "Account 0000"),
    payment_terms="Due within 14 days.",
    terms_text="First paragraph.\n\nSecond paragraph.",
)
RECIPIENT = Recipient("Invented Customer", Address(("4 Example Row",), "00000", "Musterstadt", "", "DE"))


def takeoff_of(rooms: int) -> Takeoff:
    """Small rooms, every third of them wet; beyond the sixth they are the first ones again, renamed."""
    few = _takeoff_of(min(rooms, 6))
    if rooms <= 6:
        return few
    asked = tuple(islice(cycle(few.job.rooms), rooms))
    more = replace(few, job=replace(few.job, rooms=asked), rooms=tuple(islice(cycle(few.rooms), rooms)))
    return renamed(more, [f"Room {number}" for number in range(1, rooms + 1)])


@cache
def _takeoff_of(rooms: int) -> Takeoff:
    values = load_trade_values("de", DAY)
    job = Job(tuple(_room(number) for number in range(rooms)), "de")
    return take_off(job, values, default_labour_table(values, id="rates", currency="EUR"))


def _room(number: int) -> Room:
    length, width, wet = 1500 + 137 * number % 900, 1200 + 91 * number % 700, number % 3 == 0
    ring = ((0.0, 0.0), (float(length), 0.0), (float(length), float(width)), (0.0, float(width)))
    return Room(
        f"Room {number + 1}",
        Outline(ring, walls=(0, 1, 2, 3)),
        Tile(300, 300),
        doorways=(Doorway(0, 200, 900, "carpet", 8.0),),
        obstructions=(Obstruction("drain", None, (600, 600), 110.0),) if wet else (),
        exposure="wet" if wet else "dry",
        waterproof=wet,
        skirting=Skirting(80),
        built_year=2001,
        origin="corner",
    )


def offer(rooms: int = 1, names: Sequence[str] = (), lines: int = 0, state: str = "issued") -> Offer:
    """An offer over some rooms, with `lines` further articles."""
    takeoff = takeoff_of(rooms)
    if names:
        takeoff = renamed(takeoff, [names[number % len(names)] for number in range(rooms)])
    bought = [_material(f"Article {number}", D(number), ()) for number in range(1, lines + 1)]
    return offer_of(takeoff, [*_lines(takeoff), *bought], state)


def renamed(takeoff: Takeoff, names: Sequence[str]) -> Takeoff:
    job = replace(
        takeoff.job,
        rooms=tuple(replace(room, name=name) for room, name in zip(takeoff.job.rooms, names, strict=True)),
    )
    rooms = tuple(replace(room, name=name) for room, name in zip(takeoff.rooms, names, strict=True))
    return replace(takeoff, job=job, rooms=rooms)


def offer_of(takeoff: Takeoff, at_cost: Sequence[Line], state: str = "issued") -> Offer:
    terms = Terms(
        id="terms",
        name="Terms",
        contingency_percent=D(3),
        uplifts={"default": Uplift("markup", D(20))},
        discount_percent=D(2),
        taxes=(TaxRule("Tax on work", D("5.5"), "labour"), TaxRule("Tax on goods", D(19), "materials")),
        deposit_percent=D(30),
        stages=(Stage("On start", D(40)), Stage("On completion", D(30))),
        retention_percent=D(5),
        rounding=Rounding(total_step=D("0.05")),
    )
    lines, totals = total(at_cost, terms)
    priced = Priced("EUR", lines, totals)
    return Offer("Q-2026-0007", 2, state, DAY, date(2026, 4, 1), "EUR", takeoff, priced)


def _lines(takeoff: Takeoff) -> list[Line]:
    rooms = [room.name for room in takeoff.rooms]
    hours = (
        plain_line("labour", work.activity, "", "h", D(str(round(work.hours, 2))), D("38.70"), Rounding())
        for work in takeoff.labour
    )
    delivery = (
        plain_line("delivery", "delivery", f"delivery by {SECRET}", "order", D(1), D(cost), Rounding())
        for cost in ("45", "39.90")
    )
    mine = (
        _material(f"Invented {need.role}", D(str(round(need.with_allowance, 2))), tuple(rooms[: 1 + at % 2]))
        for at, need in enumerate(takeoff.materials)
    )
    return [*mine, *hours, *delivery]


def _material(name: str, quantity: Decimal, rooms: tuple[str, ...]) -> Line:
    line = plain_line("material", "grout", name, "kg", quantity, D("2.11"), Rounding())
    return replace(line, product=name, supplier=SECRET, supplier_name=SECRET, rooms=rooms)
