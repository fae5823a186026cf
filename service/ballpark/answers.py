"""What a home owner may answer, and which of the answers bear on a price."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

RoomKind = Literal["bathroom", "kitchen", "hall", "living_room", "utility_room"]
TileSize = Literal["small", "medium", "large", "plank"]
Drain = Literal["none", "in_floor"]
Home = Literal["lived_in", "empty"]
BallparkPattern = Literal["stack_bond", "running_bond", "diagonal", "herringbone"]
CHOICES = ("exposure", "tile_size", "pattern", "existing_covering", "heating", "drain", "home")
"""Questions that are answered by a word, beside the room's kind and its size."""
QUESTIONS = ("area_m2", "lengths", "room_kind", *CHOICES)


@dataclass(frozen=True, slots=True)
class Answers:
    """The answers given, None where not: area [m2], rough lengths [mm], words."""

    area_m2: float | None = None
    length: float | None = None
    width: float | None = None
    room_kind: str | None = None
    exposure: str | None = None
    tile_size: str | None = None
    pattern: str | None = None
    existing_covering: str | None = None
    heating: str | None = None
    drain: str | None = None
    home: str | None = None

    @property
    def lengths_known(self) -> bool:
        return self.length is not None and self.width is not None

    @property
    def floor_m2(self) -> float | None:
        """The area as said, else as the lengths give it."""
        if self.area_m2 is not None:
            return self.area_m2
        if self.length is None or self.width is None:
            return None
        return self.length * self.width / 1e6

    @property
    def answered(self) -> frozenset[str]:
        """The questions that bear on the price and have an answer."""
        said = {name for name in ("room_kind", *CHOICES) if getattr(self, name) is not None}
        if self.area_m2 is not None:
            said.add("area_m2")
        if self.lengths_known:
            said.add("lengths")
        return frozenset(said)
