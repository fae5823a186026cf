"""Plain floors for the tests of mortar, grout, sealant, ground and checks. All are invented."""

from __future__ import annotations

from datetime import date
from typing import Any

from service.takeoff.answer import Cuts, Finding, Layout, Material, MovementJoints, Step
from service.takeoff.geometry import FloorShape, floor_shape
from service.takeoff.room import Outline, Room, Tile
from service.trade.values import TradeValues, load_trade_values

UNLAID = Layout(None, 0, 0, 0, Cuts(), 0.0, None, 0, 0, 0.0, 0.0, 0.0, laid_out=False)
"""A floor of which nothing is laid."""
US, UK, DE = (load_trade_values(standards, date(2026, 6, 1)) for standards in ("us", "uk", "de"))
BY_STANDARDS: dict[str, TradeValues] = {"us": US, "uk": UK, "de": DE}


def room(length: float = 5000, width: float = 4000, **said: Any) -> Room:
    """A rectangle with walls all round, 20 m2 unless said otherwise."""
    outline = Outline(((0, 0), (length, 0), (length, width), (0, width)), walls=(0, 1, 2, 3))
    return Room(**{"name": "Room", "shape": outline, "tile": Tile(300, 300), **said})


def shape(floor: Room) -> FloorShape:
    return floor_shape(floor)


def layout(area_m2: float = 20, joint_length_m: float = 130, **said: Any) -> Layout:
    """A layout by its figures alone."""
    plain: dict[str, Any] = {
        "origin": None,
        "pieces": 0,
        "whole_tiles": 0,
        "cut_tiles": 0,
        "cuts": Cuts(),
        "cut_length_m": 0,
        "narrowest_piece_mm": None,
        "tiles_needed": 0,
        "tiles_lower_bound": 0,
        "wastage_percent": 0,
    }
    return Layout(**{**plain, "tiled_area_m2": area_m2, "joint_length_m": joint_length_m, **said})


def joints(perimeter: float = 18, field: float = 0, doorways: float = 0, width: float = 6) -> MovementJoints:
    return MovementJoints(perimeter, field, doorways, width, 7.62)


def bill(step: Step) -> dict[str, Material]:
    """The materials of a step by role; a role must come once."""
    roles = [material.role for material in step.materials]
    assert len(roles) == len(set(roles))
    return {material.role: material for material in step.materials}


def work(step: Step) -> dict[str, float]:
    return {each.activity: each.quantity for each in step.work}


def verdicts(findings: tuple[Finding, ...]) -> dict[str, str]:
    """The verdict of each rule; a rule must speak once, and every finding cite something."""
    rules = [finding.rule for finding in findings]
    assert len(rules) == len(set(rules))
    assert all(finding.source and finding.message for finding in findings)
    return {finding.rule: finding.verdict for finding in findings}
