"""The search for the start that an expert would choose.

In this order: no piece narrower than half a tile (where the room does not allow it: a third, a quarter, an
eighth; a strip left open is worst), fewest tiles needed, fewest cuts, balance between opposite edges, a
whole tile at the entrance, few cut tiles along the main sight line. Pieces at columns and in door openings
are judged like those at walls. All starts are counted by what cuts leave of tiles; the few best are laid
out, and how tiles can be shared is reckoned for those only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, dataclass, replace
from functools import cached_property

import numpy as np

from service.takeoff.answer import OriginChoice, OriginSearch
from service.takeoff.clipped_counts import count_each
from service.takeoff.laid_floor import Floor, LaidFloor
from service.takeoff.level_counts import count_all, courses_of
from service.takeoff.level_field import level_field
from service.takeoff.room import Point
from service.takeoff.starts import EFFORTS, fitted_to_all, free_starts, level_starts, starts_around
from service.takeoff.sweep import Floats
from service.takeoff.tried import GAP, Tried, Wants, joined, seen, step_of

_RUNNERS_UP = 2
_TOLD = 3  # decimals in which starts are told apart


@dataclass(frozen=True)
class Judged:
    """A start laid out, with how far it is from balance."""

    laid: LaidFloor
    imbalance: float

    @cached_property
    def value(self) -> tuple[float, ...]:
        """The criteria in order, the smaller the better."""
        step = step_of(self.laid.narrowest_share) if self.laid.narrowest_share > 0 else GAP
        looks = (self.laid.whole_at_entrance is False, self.laid.cut_on_sight_line or 0)
        return (
            step,
            self.laid.tiles_needed,
            sum(astuple(self.laid.cuts)),
            float(seen(np.float64(self.imbalance))),
            *looks,
        )

    @property
    def choice(self) -> OriginChoice:
        return OriginChoice(
            origin=self.laid.origin,
            rotation_deg=self.laid.floor.room.pattern.rotation,
            narrowest_share=self.laid.narrowest_share,
            tiles_needed=self.laid.tiles_needed,
            cuts=sum(astuple(self.laid.cuts)),
            imbalance=round(self.imbalance, 4),
            whole_at_entrance=self.laid.whole_at_entrance,
            cut_on_sight_line=self.laid.cut_on_sight_line,
        )


def best_floor(floors: list[Floor], corner: Point, far: Point) -> tuple[LaidFloor, OriginSearch]:
    """The best start on any of the floors, which differ by their rotation, and how it was found.

    `corner`, the plain start in the room [mm], is tried on each; what it gives on the first is told. `far`
    is the corner opposite to it.
    """
    tried = [_tried(floor, *map(floor.ground.turn.point_to_tile, (corner, far))) for floor in floors]
    laid = [list(_laid(floor, each, corner)) for floor, each in zip(floors, tried, strict=True)]
    plain = laid[0][0]
    ranked = sorted((each for floor in laid for each in floor), key=lambda each: each.value)
    first, *next_best = _unlike([each.choice for each in ranked])[: 1 + _RUNNERS_UP]
    count, complete = sum(len(each.origins) for each in tried), all(each.complete for each in tried)
    return ranked[0].laid, OriginSearch(first, plain.choice, tuple(next_best), count, complete)


def _unlike(choices: list[OriginChoice]) -> list[OriginChoice]:
    """The first of those that are told alike but for their place."""
    told = [
        replace(
            each,
            origin=(0.0, 0.0),
            narrowest_share=round(each.narrowest_share, _TOLD),
            imbalance=round(each.imbalance, _TOLD),
        )
        for each in choices
    ]
    return [each for i, each in enumerate(choices) if told[i] not in told[:i]]


def _laid(floor: Floor, tried: Tried, corner: Point) -> Iterator[Judged]:
    """The plain start, then the best others by what was counted."""
    yield Judged(LaidFloor(floor, corner), float(tried.imbalance[0]))
    effort = EFFORTS[floor.room.search]
    for i in tried.best(effort.laid if tried.complete else effort.sampled):
        origin = floor.ground.turn.point_to_room(tried.start(i))
        yield Judged(LaidFloor(floor, origin), float(tried.imbalance[i]))


def _tried(floor: Floor, plain: Point, far: Point) -> Tried:
    """Every start counted, `plain` first."""
    wants = Wants.of(floor.room)
    level, courses = level_field(floor.ground.field), courses_of(floor.repeat)
    if level and courses:
        xs, ys = level_starts(level, courses, plain, wants)
        counted = count_all(level, courses, xs, ys, wants, floor.view.threshold)
        return replace(counted, complete=fitted_to_all(level, courses))
    return _sampled(floor, free_starts(floor.ground, floor.repeat, plain, far), wants)


def _sampled(floor: Floor, starts: Floats, wants: Wants) -> Tried:
    """As many of the starts as the search affords, then more around the best."""
    effort = EFFORTS[floor.room.search]
    tried = count_each(floor.ground, floor.repeat, effort.affordable(starts, floor.ground), wants)
    for share in effort.finer:
        near = starts_around(tried.origins[tried.ranked()], floor.repeat, share)
        around = effort.affordable(near, floor.ground)
        tried = joined(tried, count_each(floor.ground, floor.repeat, around, wants))
    return tried
