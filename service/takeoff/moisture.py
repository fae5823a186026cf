"""Is the ground dry and old enough? A reading decides; where none is given, the finding asks for one."""

from __future__ import annotations

from service.sentence import Sentence, say
from service.takeoff.answer import Finding, Wait
from service.takeoff.room import OLD_FLOORS, Moisture, Room, SubstrateKind
from service.trade.values import TradeValues

CONCRETE: frozenset[SubstrateKind] = frozenset(
    {"concrete_on_ground", "concrete_suspended", "concrete_young", "exterior_slab"}
)
CEMENT_SCREED: frozenset[SubstrateKind] = frozenset({"screed_cement", "screed_heated"})
GYPSUM_BOUND: frozenset[SubstrateKind] = frozenset({"screed_calcium_sulfate", "gypsum_underlayment"})
WOODEN: frozenset[SubstrateKind] = frozenset({"plywood_on_joists", "osb_on_joists"})
SPANNING: frozenset[SubstrateKind] = WOODEN | {"concrete_suspended"}
"""Grounds that span, and draw no water from the earth: under a floor that has lain for years they are dry."""

METHODS = {
    "rh": say("relative humidity"),
    "cm": say("carbide-method reading"),
    "mver": say("vapour emission"),
    "wood": say("wood moisture"),
}
AT_THE_HEAD = {
    "rh": say("Relative humidity"),
    "cm": say("Carbide-method reading"),
    "mver": say("Vapour emission"),
    "wood": say("Wood moisture"),
}
HOURS_PER_DAY = 24.0
UNITS = {"rh": "%", "cm": "CM-%", "mver": "lb/1000 ft2/24 h", "wood": "%"}


def findings(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    """Moisture, age and drying time of the ground; what is not known under an old floor is asked."""
    found = (beneath(room, values), moisture(room, values), age(room, values), drying(room, values))
    return tuple(finding for finding in found if finding)


def waits(room: Room, values: TradeValues) -> tuple[Wait, ...]:
    """Until a ground read too wet is read again, and until one too young or not yet dry is old enough."""
    hours = {
        "moisture": values.number("substrate.drying.read_again"),
        "age": HOURS_PER_DAY * _days_missing(_age_wanted(room, values), room),
        "drying": HOURS_PER_DAY * _days_missing(_drying_wanted(room, values), room),
    }
    known = (found for found in findings(room, values) if found.verdict == "condition")
    told = ((hours[found.rule], found.source) for found in known if found.asks in ("", "moisture_over"))
    return tuple(Wait("prepare", length, source) for length, source in told)


def _days_missing(wanted: float | None, room: Room) -> float:
    return max(0.0, (wanted or 0.0) - (room.substrate.age_days or 0.0))


def _age_wanted(room: Room, values: TradeValues) -> float | None:
    key = _age_key(room.substrate.bearing)
    return values.number(key) if key else None


def _drying_wanted(room: Room, values: TradeValues) -> float | None:
    thickness = room.substrate.thickness
    return None if thickness is None else drying_days(thickness, values)


def beneath(room: Room, values: TradeValues) -> Finding | None:
    """An old floor hides what decides about moisture, age and stiffness."""
    key = "substrate.beneath"
    if room.substrate.kind not in OLD_FLOORS or room.substrate.beneath is not None:
        return None
    return Finding("beneath", "condition", say(values.word(key)), values.citation(key), "beneath")


def moisture(room: Room, values: TradeValues) -> Finding | None:
    """The reading against the limit of its method; over it a condition, far over it a refusal.

    Under an old floor a reading is asked for where the ground can draw water from the earth.
    """
    read, covered = room.substrate.moisture, room.substrate.kind in OLD_FLOORS
    ground = _read_as(room, read)
    if ground is None or (covered and read is None and room.substrate.bearing in SPANNING):
        return None
    if read is None:
        return _unread(ground, values)
    key = _limit_key("moisture", ground, read, _heated(room), values)
    if key is None:
        said = say(
            "No limit is known for {method} on this ground: {asked}.",
            method=METHODS[read.method],
            asked=_ask(ground, values),
        )
        return Finding("moisture", "condition", said, values.citation(_method_key(ground)), "moisture")
    return _judged(read, key, _refused_over(ground, read, room, values), values)


def age(room: Room, values: TradeValues) -> Finding | None:
    """Concrete and cement screed shrink at first; over an uncoupling membrane tile may come sooner."""
    key = _age_key(room.substrate.bearing)
    if key is None:
        return None
    days, wanted = room.substrate.age_days, values.number(key)
    source = values.citation(key)
    if days is None:
        said = say(
            "The age of the ground is not known: at least {wanted:g} days are wanted before tile.",
            wanted=wanted,
        )
        return Finding("age", "condition", said, source, "age_days")
    if days >= wanted:
        return Finding("age", "pass", f"{days:g} days old, {wanted:g} are wanted.", source)
    return _young(room, days, wanted, values)


def drying(room: Room, values: TradeValues) -> Finding | None:
    """Time a calcium sulfate screed takes to dry, where no reading tells more."""
    if room.substrate.bearing != "screed_calcium_sulfate" or room.substrate.moisture is not None:
        return None
    thickness, days = room.substrate.thickness, room.substrate.age_days
    source = values.citation("substrate.drying.first_rate")
    if thickness is None or days is None:
        said = say(
            "Thickness and age of the calcium sulfate screed are not known: its drying cannot be reckoned."
        )
        return Finding("drying", "condition", said, source, "moisture")
    wanted = drying_days(thickness, values)
    said = say(
        "{thickness:g mm} of calcium sulfate screed take about {wanted:g} days to dry; {days:g} are over.",
        thickness=thickness,
        wanted=wanted,
        days=days,
    )
    return Finding("drying", "pass" if days >= wanted else "condition", said, source)


def drying_days(thickness_mm: float, values: TradeValues) -> float:
    """Days that a calcium sulfate screed takes to dry: 60 mm take 40 + 2 x 20 = 80 days."""
    first = min(thickness_mm, values.number("substrate.drying.first_depth"))
    further = thickness_mm - first
    return first * values.number("substrate.drying.first_rate") + further * values.number(
        "substrate.drying.further_rate"
    )


def _judged(read: Moisture, key: str, refused_over: float, values: TradeValues) -> Finding:
    limit, source = values.number(key), values.citation(key)
    held = say(
        "{method} {read:g} {unit}, {limit:g} {unit} allowed",
        method=AT_THE_HEAD[read.method],
        read=read.value,
        limit=limit,
        unit=UNITS[read.method],
    )
    if read.value <= limit:
        return Finding("moisture", "pass", f"Dry enough: {held}.", source)
    if read.value > refused_over:
        return Finding("moisture", "refuse", say("Too wet to build on: {held}.", held=held), source)
    said = say("{held}: let it dry, or have the membrane's maker accept the reading in writing.", held=held)
    return Finding("moisture", "condition", said, source, "moisture_over", accept=True)


def _unread(ground: str, values: TradeValues) -> Finding:
    said = say("The moisture of the ground is not known: {asked}.", asked=_ask(ground, values))
    return Finding("moisture", "condition", said, values.citation(_usual_key(ground, values)), "moisture")


def _ask(ground: str, values: TradeValues) -> Sentence:
    method = values.word(_method_key(ground))
    return say(
        "measure {method}, {limit:g} {unit} or less is wanted",
        method=METHODS[method],
        limit=values.number(_usual_key(ground, values)),
        unit=UNITS[method],
    )


def _usual_key(ground: str, values: TradeValues) -> str:
    """The limit for a reading by the country's usual method."""
    return f"substrate.moisture.{ground}.{values.word(_method_key(ground))}"


def method_words(room: Room, values: TradeValues) -> str:
    """How this ground is measured: as it was read, else by the country's usual method; empty where it is not.

    An unknown ground is looked at as cement-bound.
    """
    if room.substrate.moisture is not None:
        return METHODS[room.substrate.moisture.method]
    ground = "cement" if room.substrate.kind == "unknown" else _ground(room.substrate.kind)
    return METHODS[values.word(_method_key(ground))] if ground else ""


def _method_key(ground: str) -> str:
    return f"substrate.moisture_method.{ground}"


def _limit_key(family: str, ground: str, read: Moisture, heated: bool, values: TradeValues) -> str | None:
    """The limit for heated ground where there is one, else the common one."""
    names = ([f"{ground}_heated"] if heated else []) + [ground]
    keys = (f"substrate.{family}.{name}.{read.method}" for name in names)
    return next((key for key in keys if key in values.by_key), None)


def _refused_over(ground: str, read: Moisture, room: Room, values: TradeValues) -> float:
    key = _limit_key("moisture_refused", ground, read, _heated(room), values)
    return values.number(key) if key else float("inf")


def _heated(room: Room) -> bool:
    return room.heating == "water" or room.substrate.kind == "screed_heated"


def _read_as(room: Room, read: Moisture | None) -> str | None:
    """The ground that a reading is of; of one that is not known under an old floor its method tells."""
    if room.substrate.kind in OLD_FLOORS and room.substrate.beneath is None and read is not None:
        return "wood" if read.method == "wood" else "cement"
    return _ground(room.substrate.bearing)


def _ground(kind: SubstrateKind) -> str | None:
    if kind in CONCRETE | CEMENT_SCREED:
        return "cement"
    if kind in GYPSUM_BOUND:
        return "calcium_sulfate"
    return "wood" if kind in WOODEN else None


def _age_key(kind: SubstrateKind) -> str | None:
    if kind in CONCRETE:
        return "substrate.age.concrete"
    return "substrate.age.screed" if kind in CEMENT_SCREED else None


def _young(room: Room, days: float, wanted: float, values: TradeValues) -> Finding:
    key = "substrate.age.walkable"
    walkable = values.number(key)
    if room.membrane is None:
        said = say(
            "{days:g} days old: without an uncoupling membrane tile waits until it is {wanted:g} days old.",
            days=days,
            wanted=wanted,
        )
        return Finding("age", "refuse", said, values.citation(_age_key(room.substrate.bearing) or key))
    if days < walkable:
        said = say(
            "{days:g} days old: not to be walked on before {walkable:g} days.", days=days, walkable=walkable
        )
        return Finding("age", "refuse", said, values.citation(key))
    said = say(
        "{days:g} days old, {wanted:g} are usual: so long the floor waits, unless the membrane's maker "
        "allows it on ground this young.",
        days=days,
        wanted=wanted,
    )
    return Finding("age", "condition", said, values.citation(_age_key(room.substrate.bearing) or key))
