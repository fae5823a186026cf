"""Can this ground carry the floor? What it must be, what is not known of it, what rules it out."""

from __future__ import annotations

from collections.abc import Callable

from service.sentence import say
from service.takeoff import loads, moisture, structure
from service.takeoff.answer import Finding, Layout, Step, Verdict, Work
from service.takeoff.geometry import FloorShape
from service.takeoff.parts import joined
from service.takeoff.primer import primed
from service.takeoff.room import OLD_FLOORS, Room
from service.trade.values import TradeValues

Rule = Callable[[Room, TradeValues], Finding | None]


def take(room: Room, shape: FloorShape, layout: Layout, values: TradeValues) -> Step:
    """Findings on the ground of one room, and its preparation: grinding [m2] and primer [l]."""
    area = shape.measures.floor_area_m2
    grinding = (Work("grind", "area", area, "m2"),) if _listed(room, "substrate.ground_off", values) else ()
    found = (*findings(room, values), *loads.findings(room, shape, values))
    own = Step(work=grinding, findings=found, waits=moisture.waits(room, values))
    return joined(own, primed(room, shape, values))


def findings(room: Room, values: TradeValues) -> tuple[Finding, ...]:
    """Every rule's answer on the ground, in a fixed order; a fact missing makes a condition, never a pass."""
    own = (rule(room, values) for rule in RULES)
    return (
        *(finding for finding in own if finding),
        *moisture.findings(room, values),
        *structure.findings(room, values),
    )


def ground(room: Room, values: TradeValues) -> Finding:
    """What this kind of ground must be on the day, which only a look at it can tell."""
    key = f"substrate.must.{room.substrate.kind}"
    unknown = room.substrate.kind == "unknown"
    asks = "substrate" if unknown else ""
    must = say(values.word(key))
    return Finding("substrate", "condition", must, values.citation(key), asks, accept=unknown)


def bonded(room: Room, values: TradeValues) -> Finding | None:
    """An old floor carries a new one only where it holds all over, which a tap or a pull tells."""
    kind, held = room.substrate.kind, room.substrate.bonded
    if kind not in OLD_FLOORS:
        return None
    key = f"substrate.bonded.{kind}"
    if held is None:
        said = say("Whether the old floor holds is not known: {tested}.", tested=say(values.word(key)))
        return Finding("bonded", "condition", said, values.citation(key), "bonded")
    verdict: Verdict = "pass" if held else "refuse"
    loose = say("The old floor is loose: it must come out first.")
    return Finding(
        "bonded", verdict, "The old floor holds all over." if held else loose, values.citation(key)
    )


def osb_needs_membrane(room: Room, values: TradeValues) -> Finding | None:
    if room.substrate.kind != "osb_on_joists" or room.membrane is not None:
        return None
    said = say("Tile is never bonded straight to OSB: lay a membrane or an underlayment over it.")
    return Finding("osb", "refuse", said, values.citation("substrate.must.osb_on_joists"))


def gypsum_thickness(room: Room, values: TradeValues) -> Finding | None:
    if room.substrate.kind != "gypsum_underlayment":
        return None
    key = "substrate.gypsum_thickness"
    least, thickness = values.number(key), room.substrate.thickness
    if thickness is None:
        said = say(
            "The thickness of the gypsum underlayment is not known: at least {least:g mm} is wanted.",
            least=least,
        )
        return Finding("gypsum_thickness", "condition", said, values.citation(key), "thickness")
    verdict: Verdict = "pass" if thickness >= least else "refuse"
    said = say(
        "Gypsum underlayment {thickness:g mm} thick, at least {least:g mm} is wanted.",
        thickness=thickness,
        least=least,
    )
    return Finding("gypsum_thickness", verdict, said, values.citation(key))


def gypsum_and_water(room: Room, values: TradeValues) -> Finding | None:
    """Gypsum-bound ground loses its strength when it gets wet, under an old floor too."""
    if room.substrate.bearing not in moisture.GYPSUM_BOUND or room.hardest_exposure != "wet":
        return None
    key = "substrate.gypsum_at_drain"
    drained = any(obstruction.kind == "drain" for obstruction in room.obstructions)
    if drained and values.word(key) == "refuse":
        said = say("Gypsum-bound ground is not allowed under a floor with a drain.")
        return Finding("gypsum_and_water", "refuse", said, values.citation(key))
    if room.waterproof and not room.sealed_zones_only:
        held = "Gypsum-bound ground must stay dry: the whole floor is sealed with its edges."
        return Finding("gypsum_and_water", "pass", held, values.citation(key))
    said = say("Gypsum-bound ground must stay dry: waterproof the whole floor with its edges.")
    return Finding("gypsum_and_water", "condition", said, values.citation(key), "gypsum_sealing", accept=True)


def indoors_only(room: Room, values: TradeValues) -> Finding | None:
    layers = {room.substrate.kind, room.substrate.bearing, room.substrate.structure}
    frail = layers & {row["kind"] for row in values.table("substrate.indoors_only")}
    if room.hardest_exposure != "exterior" or not frail:
        return None
    said = say("This ground does not stand the weather: no tile on it outdoors.")
    return Finding("indoors_only", "refuse", said, values.citation("substrate.indoors_only"))


def outdoor_slope(room: Room, values: TradeValues) -> Finding | None:
    """Outdoors water must run off; a waterproofed floor is judged with its waterproofing."""
    outdoors = room.hardest_exposure == "exterior" or room.substrate.kind == "exterior_slab"
    if not outdoors or room.waterproof:
        return None
    key = "waterproofing.fall"
    share = values.number(key)
    if room.falls != "none":
        said = f"Falls of {share:.1%} are built."
        return Finding("slope", "pass", said, values.citation(key))
    said = say(
        "The slope of the slab is not known: it must fall at least {share:.1%} away from the building.",
        share=share,
    )
    return Finding("slope", "condition", said, values.citation(key), "slope")


def heating(room: Room, values: TradeValues) -> Finding | None:
    if room.heating == "electric":
        key = "substrate.heating.electric"
    elif room.heating == "water" or room.substrate.kind == "screed_heated":
        deck = room.substrate.kind in moisture.WOODEN
        key = "substrate.heating.water_deck" if deck else "substrate.heating.water"
    else:
        return None
    return Finding("heating", "condition", say(values.word(key)), values.citation(key))


RULES: tuple[Rule, ...] = (
    ground,
    bonded,
    osb_needs_membrane,
    gypsum_thickness,
    gypsum_and_water,
    indoors_only,
    outdoor_slope,
    heating,
)


def _listed(room: Room, key: str, values: TradeValues) -> bool:
    return any(row["kind"] == room.substrate.kind for row in values.table(key))
