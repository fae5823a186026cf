"""What is in the job that decides how the crew works and with which tools."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from service.sentence import Figure, say
from service.takeoff import levelling, moisture, mortar, primer
from service.takeoff.answer import Step
from service.takeoff.notch import membrane_notch, notch_named, tile_notch
from service.takeoff.room import Room
from service.trade.values import TradeValues


@dataclass(frozen=True)
class WorkFacts:
    """One room with what its trade steps gave, and the values in force."""

    room: Room
    step: Step
    values: TradeValues

    def needs(self, role: str) -> bool:
        return any(material.role == role for material in self.step.materials)

    def does(self, *prefixes: str) -> bool:
        return any(work.activity.startswith(prefixes) for work in self.step.work)

    @cached_property
    def words(self) -> dict[str, Figure]:
        """What a text may name in braces: notches chosen, contact wanted, load and lap allowed, the meter."""
        values, thickness = self.values, self.room.membrane.thickness if self.room.membrane else "standard"
        full = "wet" if mortar.full_contact(self.room) else "dry"
        return {
            "membrane_notch": membrane_notch(thickness, values).words,
            "tile_notch": tile_notch(max(t.longest_edge for t in self.room.tiles), values).words,
            "band_notch": notch_named(values.word("mortar.band_notch"), values).words,
            "contact": say("{share:.0%}", share=values.number(f"checks.contact_{full}")),
            "lap": say("{lap:g mm}", lap=values.number("waterproofing.band_lap")),
            "roller": say("{load:.0f kg}", load=values.number("crew.roller")),
            "meter": moisture.method_words(self.room, values),
        }


Applies = Callable[[WorkFacts], bool]


def always(facts: WorkFacts) -> bool:
    return True


def porous_and_bare(facts: WorkFacts) -> bool:
    """A cement-bound ground that nothing primes or levels drinks the water out of the first mortar."""
    room, values = facts.room, facts.values
    mineral = room.substrate.kind in moisture.CONCRETE | moisture.CEMENT_SCREED
    covered = room.falls != "none" or levelling.poured(room, values)
    return mineral and not covered and not primer.coats_of(room, values)
