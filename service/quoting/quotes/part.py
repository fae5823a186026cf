"""What a customer who takes an option, or only some of the rooms, has accepted, at the prices of the offer.

An option stands in place of the whole offer, so that one is taken and no rooms are left out of it.

Each line is taken by the share of it that the rooms need when they are taken off alone: material by quantity,
work by hours. What does not shrink with the rooms (a delivery, the day's setting up) is taken whole, and each
line says whether it is shared with the rooms that were left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from service.pricing.model import Line, Priced, Rounding, TaxLine, Terms
from service.pricing.money import to_minor, to_step
from service.pricing.taxes import taxes_on
from service.quoting.catalogue import UnknownReference
from service.quoting.errors import Conflict
from service.quoting.needs import exact
from service.quoting.quotes.stored import StoredQuote
from service.quoting.recompute import recomputed
from service.quoting.snapshot import from_json
from service.takeoff.answer import Takeoff
from service.takeoff.errors import InputError

WHOLE, NOTHING = Fraction(1), Fraction(0)
PERCENT_STEP = Decimal("0.01")
"""Shares are told, half to even, to this part of a percent."""


@dataclass(frozen=True, slots=True)
class Scope:
    """The rooms, by name or place, or the options that were taken."""

    rooms: tuple[str | int, ...] = ()
    options: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Taken:
    """A line as taken: its share, and whether rooms that were left out share it.

    `measured` where the share is what the rooms alone need over what all need, else it is all, or that of
    all other lines together.
    """

    position: int
    line: Line
    share: Fraction
    shared: bool
    measured: bool = False


@dataclass(frozen=True, slots=True)
class Accepted:
    """The figures of what was accepted, as they are kept with it; of some rooms their own take-off."""

    figures: dict[str, Any]
    part: Takeoff | None = None


def accepted(offer: StoredQuote, scope: Scope | None) -> Accepted:
    """What is accepted of an offer."""
    if offer.priced is None or offer.priced.totals is None:
        raise Conflict("the offer has no price")
    if scope is not None and scope.options:
        return Accepted(_of_option(offer, scope.options))
    totals = offer.priced.totals
    places = _places(offer.takeoff, scope)
    if len(places) == len(offer.takeoff.rooms):
        return Accepted({"whole": True, **_money(totals.net, totals.tax)})
    part = _alone(offer, places)
    return Accepted(_of_part(offer.takeoff, part, offer.priced, from_json(offer.basis["terms"], Terms)), part)


def _of_part(whole: Takeoff, part: Takeoff, priced: Priced, terms: Terms) -> dict[str, Any]:
    """The figures of the rooms of the part."""
    taken = taken_lines(whole, part, priced)
    lines = [_priced(one, terms) for one in taken]
    net = sum((line.price for line in lines), Decimal(0))
    bare = [line for line in lines if line.kind != "adjustment"]
    tax = sum((each.amount for each in taxes_of(bare, net, terms)), Decimal(0))
    return {
        "whole": False,
        "rooms": [room.name for room in part.rooms],
        **_money(net, tax),
        "lines": [_told(one, line) for one, line in zip(taken, lines, strict=True)],
    }


def _of_option(offer: StoredQuote, names: Sequence[str]) -> dict[str, Any]:
    """The figures of the option that is taken in place of the offer."""
    option = offer.option(names[0])
    if option is None:
        raise UnknownReference("/scope/options/0", f"No option of this revision is called {names[0]}.")
    if len(names) > 1:
        said = (
            "Each option stands in place of the whole, so only one is taken; revise the quote to join them."
        )
        raise UnknownReference("/scope/options/1", said)
    if option.totals is None:
        raise Conflict(f"a finding refuses the floor of {option.name}, so it has no price to be accepted")
    return {"whole": True, "options": [option.name], **_money(option.totals.net, option.totals.tax)}


def _priced(one: Taken, terms: Terms) -> Line:
    return replace(one.line, price=to_minor(one.share * Fraction(one.line.price), terms.rounding))


def taxes_of(bare: Sequence[Line], net: Decimal, terms: Terms) -> tuple[TaxLine, ...]:
    """The taxes on a part; `bare` are its lines without what changes their sum."""
    return taxes_on(bare, [Decimal(0)] * len(bare), net, terms)


def taken_lines(whole: Takeoff, part: Takeoff, priced: Priced) -> list[Taken]:
    """Every line of the offer that the part needs anything of, with its share."""
    rooms = frozenset(room.name for room in part.rooms)
    lines = list(enumerate(priced.lines, 1))
    taken = [_taken(n, x, whole, part, rooms) for n, x in lines if x.kind != "adjustment"]
    asked = sum((one.line.price for one in taken), Decimal(0))
    of_all = sum((one.share * Fraction(one.line.price) for one in taken), NOTHING) / Fraction(asked or 1)
    taken += [Taken(n, x, of_all, True) for n, x in lines if x.kind == "adjustment"]
    return [one for one in taken if one.share]


def _taken(position: int, line: Line, whole: Takeoff, part: Takeoff, rooms: frozenset[str]) -> Taken:
    """The line with the share of it that the rooms need; all where nothing can be told, and at most all."""
    if line.rooms and rooms.issuperset(line.rooms):
        return Taken(position, line, WHOLE, shared=False)
    if line.rooms and rooms.isdisjoint(line.rooms):
        return Taken(position, line, NOTHING, shared=False)
    if not (of_all := _needed(whole, line)):
        return Taken(position, line, WHOLE, shared=True)
    share = Fraction(_needed(part, line)) / Fraction(of_all)
    return Taken(position, line, min(WHOLE, share), shared=True, measured=True)


def _needed(takeoff: Takeoff, line: Line) -> Decimal:
    """Hours or material; none of what is neither."""
    if line.kind == "labour":
        needed = [takeoff.labour[place].hours for place in places_of(line, takeoff)]
    else:
        needed = [takeoff.materials[place].with_allowance for place in places_of(line, takeoff)]
    return sum(map(exact, needed), Decimal(0))


def places_of(line: Line, takeoff: Takeoff) -> list[int]:
    """The places of the take-off's hours, or of its materials, that are of the line's role in its rooms."""
    if line.kind == "labour":
        return [place for place, work in enumerate(takeoff.labour) if work.activity == line.role]
    of_role = ((place, m) for place, m in enumerate(takeoff.materials) if m.role == line.role)
    return [place for place, m in of_role if not set(line.rooms).isdisjoint(m.rooms)]


def _places(takeoff: Takeoff, scope: Scope | None) -> list[int]:
    """The places of the rooms wanted, in the job's order; lines name their rooms, so names must differ."""
    if scope is None:
        return list(range(len(takeoff.rooms)))
    names = [room.name for room in takeoff.rooms]
    if len(set(names)) < len(names):
        raise UnknownReference("/scope/rooms", "Rooms have the same name: their lines cannot be told apart.")
    found = {_place(takeoff, said, f"/scope/rooms/{n}") for n, said in enumerate(scope.rooms)}
    return sorted(found)


def _place(takeoff: Takeoff, said: str | int, pointer: str) -> int:
    places = [place for place, room in enumerate(takeoff.rooms) if said in (place, room.name)]
    if len(places) != 1:
        counted = "No room is" if not places else f"{len(places)} rooms are"
        raise UnknownReference(pointer, f"{counted} called {said}.")
    return places[0]


def _alone(offer: StoredQuote, places: Iterable[int]) -> Takeoff:
    """The rooms taken off without the others, on what the offer rests."""
    whole = offer.takeoff
    job = replace(whole.job, rooms=tuple(whole.job.rooms[place] for place in places))
    try:
        return recomputed(replace(whole, job=job), offer.basis)
    except InputError as fault:
        raise UnknownReference("/scope/rooms", f"They cannot be built alone: {fault.detail}") from fault


def _money(net: Decimal, tax: Decimal) -> dict[str, str]:
    return {"net": str(net), "tax": str(tax), "gross": str(net + tax)}


def _told(one: Taken, line: Line) -> dict[str, Any]:
    return {
        "position": one.position,
        "kind": line.kind,
        "description": line.description,
        "share_percent": float(to_step(100 * one.share, PERCENT_STEP, Rounding("half_even"))),
        "shared": one.shared,
        "price": str(line.price),
    }
