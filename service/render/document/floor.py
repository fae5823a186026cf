"""What is built: scope, rooms with their plans, schedule; what was found, assumed and left out."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from service.render.document.blocks import (
    Block,
    Bullets,
    Column,
    Facts,
    Paragraph,
    Section,
    Table,
    Words,
)
from service.render.document.drawing import plan_of
from service.render.document.figures import told
from service.render.document.language import Tongue
from service.render.document.model import Offer
from service.render.document.text import isolated
from service.render.document.words import EXPOSURES, PATTERNS, RULES, STAGES, TILES, word
from service.takeoff.answer import Finding, RoomTakeoff
from service.takeoff.room import Room

UNSAID_SOURCES = frozenset({"common practice", "from memory", "derived", ""})
"""Sources that tell a reader nothing."""


def untagged(text: str) -> str:
    """Without the mark of how a source is known, which is for the office."""
    return re.sub(r" \[(standard|common practice|from memory|derived)\]", "", text)


def scope(speak: Tongue, offer: Offer) -> Section:
    """One sentence on the whole, and the rooms in a table."""
    takeoff = offer.takeoff
    area = sum(room.measures.floor_area_m2 for room in takeoff.rooms)
    columns = (
        Column(speak.say("Room")),
        Column(speak.say("Floor area"), "right", "short"),
        Column(speak.say("Tile")),
    )
    rows = tuple(
        (isolated(answer.name), speak.area(answer.measures.floor_area_m2), tile_words(speak, room))
        for room, answer in zip(takeoff.job.rooms, takeoff.rooms, strict=True)
    )
    many = speak.count("Tile floor in {number} room.", "Tile floors in {number} rooms.", len(rows))
    whole = speak.say("Together {area}.", area=speak.area(area))
    return Section(speak.say("Scope"), (Paragraph(Words(f"{many} {whole}")), Table(columns, rows)))


def tile_words(speak: Tongue, room: Room) -> str:
    """Size, material and pattern."""
    sizes = ", ".join(
        f"{speak.number(tile.length, 1)} × {speak.number(tile.width, 1)} mm"
        if not speak.us_units
        else f"{speak.millimetres(tile.length)} × {speak.millimetres(tile.width)}"
        for tile in room.tiles
    )
    return f"{sizes}, {word(speak, TILES, room.tile.material)}, {word(speak, PATTERNS, room.pattern.kind)}"


def rooms(speak: Tongue, offer: Offer) -> Section:
    pairs = zip(offer.takeoff.job.rooms, offer.takeoff.rooms, strict=True)
    parts = tuple(_room(speak, room, answer) for room, answer in pairs)
    return Section(speak.say("Rooms"), parts=parts)


def _room(speak: Tongue, room: Room, answer: RoomTakeoff) -> Section:
    drawn = plan_of(speak, room, answer)
    facts = Facts(tuple(_facts(speak, room, answer)))
    if drawn is None:
        said = speak.say("Only the area of this floor is known, so it was not drawn.")
        return Section(isolated(room.name), (facts, Paragraph(Words(said), "small")))
    return Section(isolated(room.name), (facts, drawn))


def _facts(speak: Tongue, room: Room, answer: RoomTakeoff) -> Iterator[tuple[str, str]]:
    measures, joints = answer.measures, answer.movement_joints
    yield speak.say("Floor area"), speak.area(measures.floor_area_m2)
    yield speak.say("Walls"), speak.metres(measures.wall_length_m)
    yield speak.say("Tile"), tile_words(speak, room)
    yield speak.say("Joint"), speak.millimetres(room.joint)
    yield speak.say("Exposure to water"), word(speak, EXPOSURES, room.hardest_exposure)
    if answer.membrane is not None:
        yield speak.say("Uncoupling membrane"), speak.area(answer.membrane.area_m2)
    if answer.waterproofing is not None:
        length = speak.metres(answer.waterproofing.band_length_m)
        yield speak.say("Waterproofing"), speak.say("sealed, {length} of sealing band", length=length)
    if joints.field_length_m:
        yield speak.say("Movement joints in the field"), speak.metres(joints.field_length_m)
    if room.skirting is not None:
        yield (
            speak.say("Skirting"),
            speak.say("{height} high", height=speak.millimetres(room.skirting.height)),
        )


def schedule(speak: Tongue, offer: Offer) -> Section:
    plan = offer.takeoff.schedule
    visits = speak.count("{number} visit", "{number} visits", plan.visits)
    days = speak.count("{number} working day", "{number} working days", plan.working_days)
    crew = speak.count("a crew of {number} person", "a crew of {number} people", plan.crew)
    waits = tuple(
        Words(
            speak.say(
                "{hours} h of waiting after {stage}",
                hours=speak.number(wait.hours, 1),
                stage=word(speak, STAGES, wait.after),
            )
        )
        for wait in plan.waits
    )
    said = Paragraph(Words(f"{visits}, {days}, {crew}."))
    return Section(speak.say("Schedule"), (said, Bullets(waits)) if waits else (said,))


def conditions(speak: Tongue, offer: Offer) -> Section:
    """What did not simply pass, the gravest first; what several rooms share is said once."""
    found = _shared(offer.takeoff.rooms, lambda finding: finding.verdict != "pass")
    items = tuple(_finding(speak, offer, finding, names) for finding, names in found)
    return Section(speak.say("Conditions found"), (Bullets(items),) if items else ())


def to_accept(speak: Tongue, offer: Offer) -> tuple[Words, ...]:
    """What the customer takes on by signing."""
    found = _shared(offer.takeoff.rooms, lambda finding: finding.accept)
    return tuple(_finding(speak, offer, finding, names) for finding, names in found)


def refusals(speak: Tongue, offer: Offer) -> tuple[Words, ...]:
    """Why the floor must not be built so."""
    found = _shared(offer.takeoff.rooms, lambda finding: finding.verdict == "refuse")
    return tuple(_finding(speak, offer, finding, names) for finding, names in found)


def _shared(
    answers: Sequence[RoomTakeoff], wanted: Callable[[Finding], bool]
) -> list[tuple[Finding, tuple[str, ...]]]:
    """Each finding once, with the rooms that it is of; refusals first."""
    rooms_of: dict[Finding, list[str]] = {}
    for answer in answers:
        for finding in filter(wanted, answer.findings):
            rooms_of.setdefault(finding, []).append(answer.name)
    told = [(finding, tuple(dict.fromkeys(names))) for finding, names in rooms_of.items()]
    return sorted(told, key=lambda each: each[0].verdict != "refuse")


def _finding(speak: Tongue, offer: Offer, finding: Finding, names: tuple[str, ...]) -> Words:
    """The rule by its name and its rooms, then the finding as it was made."""
    head = word(speak, RULES, finding.rule)
    if finding.verdict == "refuse":
        head = speak.say("{rule} (must not be built so)", rule=head)
    said = told(speak, finding.message)
    source = untagged(finding.source)
    source = "" if source in UNSAID_SOURCES else speak.behind(source)
    return replace(
        said, text=said.text + source, head=head, where=_where(speak, offer, names), colon=speak.colon
    )


def _where(speak: Tongue, offer: Offer, names: tuple[str, ...]) -> str:
    """The rooms meant; nothing where there is but one."""
    known = {answer.name for answer in offer.takeoff.rooms}
    if len(offer.takeoff.rooms) == 1:
        return ""
    return speak.say("all rooms") if known == set(names) else ", ".join(map(isolated, names))


def assumptions(speak: Tongue, offer: Offer) -> Section:
    return _listed(speak, speak.say("Assumptions"), offer.takeoff.assumptions)


def exclusions(speak: Tongue, offer: Offer) -> Section:
    return _listed(speak, speak.say("Not in the price"), offer.takeoff.exclusions)


def cautions(speak: Tongue, offer: Offer) -> Section:
    return _listed(speak, speak.say("Cautions"), offer.takeoff.cautions)


def _listed(speak: Tongue, heading: str, sentences: tuple[str, ...]) -> Section:
    blocks: tuple[Block, ...] = (Bullets(tuple(speak.fixed(untagged(text)) for text in sentences)),)
    return Section(heading, blocks if sentences else ())
