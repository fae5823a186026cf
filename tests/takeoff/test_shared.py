"""Take-offs that share what they have in common are those that share nothing."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from service.takeoff import flow, take_off
from service.takeoff.room import Job, Membrane, Pattern, Room, Tile
from service.takeoff.shared import Shared
from tests.takeoff.rooms import BARE, DRY_RECTANGLE, KITCHEN, LABOUR, VALUES, WET_L

CHANGES: tuple[dict[str, object], ...] = (
    {},
    {"membrane": None},
    {"membrane": Membrane("thick")},
    {"membrane": Membrane(roll_width=1500.0)},
    {"tile": Tile(300.0, 300.0, thickness=12.0, material="stone")},
    {"tile": Tile(400.0, 200.0)},
    {"pattern": Pattern("running_bond", Fraction(1, 2))},
    {"waterproof": True, "exposure": "wet"},
    {"skirting": None, "movement_joint": "profile"},
    {"heating": "electric"},
)


def test_nothing_of_the_answer_depends_on_what_was_shared() -> None:
    shared = Shared()
    for change in CHANGES:
        rooms = [replace(room, **change) for room in (DRY_RECTANGLE, WET_L, BARE)]  # type: ignore[arg-type]
        job = Job((*rooms, KITCHEN))
        assert take_off(job, VALUES, LABOUR, shared) == take_off(job, VALUES, LABOUR)


def test_a_floor_is_laid_out_once_for_all_that_is_put_under_it(monkeypatch: pytest.MonkeyPatch) -> None:
    laid: list[Room] = []
    lay_out = flow.lay_out

    def counted(room: Room, *more: object) -> object:
        laid.append(room)
        return lay_out(room, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(flow, "lay_out", counted)
    shared = Shared()
    for change in ({}, {"membrane": None}, {"skirting": None}, {"tile": Tile(300.0, 300.0, 11.0, "stone")}):
        take_off(Job((replace(DRY_RECTANGLE, **change),)), VALUES, LABOUR, shared)  # type: ignore[arg-type]
    assert len(laid) == 1
    take_off(Job((replace(DRY_RECTANGLE, tile=Tile(600.0, 300.0)),)), VALUES, LABOUR, shared)
    assert len(laid) == 2
