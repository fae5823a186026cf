"""What has to be said with a price, chosen by what is in the job; words and sources are trade values."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from service.takeoff.room import BareArea, Job, Room
from service.trade.values import TradeValues

ON_STRUCTURE = frozenset({"unknown", "concrete_suspended", "plywood_on_joists", "osb_on_joists"})
MAY_HOLD_ASBESTOS = frozenset({"resilient", "tile"})
"""Coverings that themselves, or whose adhesive, held asbestos in their day."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What cautions are chosen by: the job, the activities of its work, the values in force."""

    job: Job
    activities: frozenset[str]
    values: TradeValues

    def any_room(self, holds: Callable[[Room], bool]) -> bool:
        return any(holds(room) for room in self.job.rooms)

    def any_work(self, prefix: str) -> bool:
        return any(activity.startswith(prefix) for activity in self.activities)


def take(job: Job, activities: frozenset[str], values: TradeValues) -> tuple[str, ...]:
    """The cautions of this job in a fixed order, each with its source behind it."""
    facts = Facts(job, activities, values)
    return tuple(text_of(key, values) for key, applies in CAUTIONS if applies(facts))


def text_of(key: str, values: TradeValues) -> str:
    """The words of one caution, with the source where it is more than practice."""
    caution = values[f"caution.{key}"]
    return str(caution.value) if caution.source == caution.tag else f"{caution.value} ({caution.citation})"


def _always(facts: Facts) -> bool:
    return True


def _asbestos(facts: Facts) -> bool:
    to_year = facts.values.number("caution.asbestos_to_year")
    return facts.any_room(lambda room: _old_covering(room) and _built_by(room, to_year))


def _lead(facts: Facts) -> bool:
    to_year = facts.values.number("caution.lead_to_year")
    return facts.any_room(
        lambda room: (room.built_year is not None or _disturbed(room)) and _built_by(room, to_year)
    )


def _old_covering(room: Room) -> bool:
    """Whether a covering that may hold asbestos lies there, to be taken out or built upon."""
    covered = room.existing is not None and room.existing.covering in MAY_HOLD_ASBESTOS
    return covered or room.substrate.kind == "existing_resilient"


def _disturbed(room: Room) -> bool:
    return room.existing is not None and room.existing.covering != "none" and room.existing.remove


def _built_by(room: Room, year: float) -> bool:
    """Whether the building may be that old: an unknown year is suspect."""
    return room.built_year is None or room.built_year <= year


def _plumbed(room: Room) -> bool:
    return any(obstruction.kind in ("drain", "pipe", "fixture") for obstruction in room.obstructions)


def _area_only(room: Room) -> bool:
    return isinstance(room.shape, BareArea)


CAUTIONS: tuple[tuple[str, Callable[[Facts], bool]], ...] = (
    ("authority", _always),
    ("concealed", _always),
    ("allowance", lambda facts: facts.any_room(_area_only)),
    ("silica", _always),
    ("wet_saw", lambda facts: facts.any_work("cut_")),
    ("lifting", _always),
    ("panels", lambda facts: facts.any_work("set_panel")),
    ("asbestos", _asbestos),
    ("lead", _lead),
    ("slip", lambda facts: facts.any_room(lambda room: room.hardest_exposure != "dry")),
    ("structure", lambda facts: facts.any_room(lambda room: room.substrate.kind in ON_STRUCTURE)),
    ("electric_heating", lambda facts: facts.any_room(lambda room: room.heating == "electric")),
    ("water_heating", lambda facts: facts.any_room(lambda room: room.heating == "water")),
    ("heating_on", lambda facts: facts.any_room(lambda room: room.heating != "none")),
    ("plumbing", lambda facts: facts.any_room(_plumbed)),
    ("roller", lambda facts: facts.any_work("lay_membrane")),
    ("frost", lambda facts: facts.any_room(lambda room: room.hardest_exposure == "exterior")),
    ("doors", lambda facts: facts.any_room(lambda room: bool(room.doorways))),
    ("appearance", _always),
    ("first_use", _always),
)
"""Each caution with what must be in the job for it."""
