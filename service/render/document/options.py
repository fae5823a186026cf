"""The options of an offer: what each changes, by how much it differs, and what it comes to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from service.pricing.model import Priced
from service.pricing.terms import SEEN
from service.render.document.blocks import Block, Bullets, Column, Paragraph, Section, Table, Words
from service.render.document.floor import refusals, tile_words, to_accept
from service.render.document.language import Tongue
from service.render.document.model import Alternative, Offer
from service.render.document.prices import shown_lines
from service.render.document.text import isolated, paragraphs
from service.render.document.words import EXPOSURES, ROLES, mark, word
from service.takeoff.answer import RoomTakeoff
from service.takeoff.room import Room

INSTEAD = mark(
    "Each option takes the place of the whole offer at its own total; the terms are those of the offer."
)
NAMED_ROOMS = 3
"""So many rooms are named; more are counted."""
CHOSEN = SEEN | {"membrane"}
"""Roles whose product is worth a word where it alone changes."""


def options(speak: Tongue, offer: Offer) -> Section:
    """All options in a table, then what there is to say of any of them."""
    heading = speak.say("Options")
    if not offer.options:
        return Section(heading)
    columns = (
        Column(speak.say("Option")),
        Column(speak.say("What changes")),
        Column(speak.say("Difference"), "right", "short"),
        Column(speak.say("Total"), "right", "short"),
    )
    rows = tuple(_row(speak, offer, option) for option in offer.options)
    parts = (_part(speak, offer, option) for option in offer.options)
    told = tuple(part for part in parts if part.blocks)
    return Section(heading, (Paragraph(Words(speak.say(INSTEAD))), Table(columns, rows)), told)


def _row(speak: Tongue, offer: Offer, option: Alternative) -> tuple[str, ...]:
    total, base = option.gross, offer.gross
    if total is None:
        return isolated(option.name), _changes(speak, offer, option), "", speak.say("not possible")
    more = "" if base is None else _signed(speak, total - base)
    return isolated(option.name), _changes(speak, offer, option), more, speak.money(total)


def _signed(speak: Tongue, amount: Decimal) -> str:
    return f"+{speak.money(amount)}" if amount > 0 else speak.money(amount)


def _part(speak: Tongue, offer: Offer, option: Alternative) -> Section:
    """The office's note, and what the option is refused for or asks the customer to take on besides."""
    blocks: list[Block] = [Paragraph(Words(text)) for text in paragraphs(option.note)]
    floor = replace(offer, takeoff=option.takeoff, priced=option.priced)
    if option.gross is None:
        blocks.append(Bullets(refusals(speak, floor)))
    known = to_accept(speak, offer)
    if taken_on := tuple(said for said in to_accept(speak, floor) if said not in known and option.priced):
        also = Words(speak.say("With this option the customer also takes on:"))
        blocks += [Paragraph(also), Bullets(taken_on)]
    return Section(isolated(option.name), tuple(blocks))


def _changes(speak: Tongue, offer: Offer, option: Alternative) -> str:
    """What the customer sees change: by room where rooms change differently, else by product."""
    pairs = zip(_rooms(offer), _rooms(option), strict=True)
    changes: dict[str, list[str]] = {}
    for (room, answer), (other, instead) in pairs:
        if moved := "; ".join(_moved(speak, room, answer, other, instead)):
            changes.setdefault(moved, []).append(answer.name)
    count = len(offer.takeoff.rooms)
    said = [_said(speak, moved, names, count) for moved, names in changes.items()]
    return " / ".join(said) or "; ".join(_products(speak, offer.priced, option.priced))


def _rooms(floor: Offer | Alternative) -> Iterator[tuple[Room, RoomTakeoff]]:
    return zip(floor.takeoff.job.rooms, floor.takeoff.rooms, strict=True)


def _said(speak: Tongue, moved: str, names: list[str], count: int) -> str:
    if len(names) == count:
        return moved
    if len(names) > NAMED_ROOMS:
        many = speak.count("{number} room", "{number} rooms", len(names))
        return f"{many}{speak.colon} {moved}"
    return f"{', '.join(map(isolated, names))}{speak.colon} {moved}"


def _moved(
    speak: Tongue, room: Room, answer: RoomTakeoff, other: Room, instead: RoomTakeoff
) -> Iterator[str]:
    """The choices of a room that are others with the option."""
    nothing = speak.say("left out")
    before, after = dict(_choices(speak, room, answer)), dict(_choices(speak, other, instead))
    for name in dict.fromkeys((*after, *before)):
        if before.get(name) != after.get(name):
            yield f"{name}{speak.colon} {after.get(name) or nothing}"


def _choices(speak: Tongue, room: Room, answer: RoomTakeoff) -> Iterator[tuple[str, str]]:
    yield speak.say("Tile"), tile_words(speak, room)
    yield speak.say("Joint"), speak.millimetres(room.joint)
    yield speak.say("Floor area"), speak.area(answer.measures.floor_area_m2)
    yield speak.say("Exposure to water"), word(speak, EXPOSURES, room.hardest_exposure)
    if answer.membrane is not None and room.membrane is not None:
        thickness = {"standard": speak.say("usual thickness"), "thick": speak.say("thick")}
        yield speak.say("Uncoupling membrane"), thickness[room.membrane.thickness]
    if answer.waterproofing is not None:
        yield speak.say("Waterproofing"), speak.say("sealed")
    if room.skirting is not None:
        yield (
            speak.say("Skirting"),
            speak.say("{height} high", height=speak.millimetres(room.skirting.height)),
        )


def _products(speak: Tongue, before: Priced | None, after: Priced | None) -> Iterator[str]:
    """The products that the option buys instead, of roles that a customer chooses."""
    known = {(line.role, line.name) for line in shown_lines(before)} if before else set()
    for line in shown_lines(after) if after else ():
        if line.role in CHOSEN and line.name and (line.role, line.name) not in known:
            yield f"{word(speak, ROLES, line.role)}{speak.colon} {isolated(line.name)}"
