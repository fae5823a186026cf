"""What an organisation's commercial terms say of a role: its group, its uplift, its allowance."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from service.pricing.model import Allowance, Need, Terms, Uplift
from service.pricing.money import as_part

GROUPS: dict[str, str] = {
    "tile": "tile",
    "skirting_tile": "tile",
    "membrane_mortar": "setting",
    "tile_mortar": "setting",
    "grout": "setting",
    "sealant": "setting",
    "backer_rod": "setting",
    "bond_breaker_tape": "setting",
    "membrane": "waterproofing",
    "band": "waterproofing",
    "inside_corner": "waterproofing",
    "outside_corner": "waterproofing",
    "pipe_seal": "waterproofing",
    "drain_seal": "waterproofing",
    "band_mortar": "waterproofing",
    "movement_joint_profile": "profiles",
    "edge_profile": "profiles",
    "transition_profile": "profiles",
    "skirting_profile": "profiles",
    "cove_profile": "profiles",
    "profile_fitting": "profiles",
    "perimeter_strip": "preparation",
    "levelling_compound": "preparation",
    "fall_screed": "preparation",
    "primer": "preparation",
    "delivery": "delivery",
}
"""The group of each role for its uplift; a role not named here is of the group `other`."""

CUT_FROM: dict[str, str] = {"skirting_tile": "tile"}
"""Roles that are cut from the product of another, and so are bought or allowed for as that one."""

STATED_ONLY = frozenset({"tile", "skirting_tile"})
"""Roles that are never chosen by price: without a product they stand as a stated allowance."""

SEEN = STATED_ONLY | {
    "grout",
    "edge_profile",
    "transition_profile",
    "skirting_profile",
    "cove_profile",
    "movement_joint_profile",
}
"""Roles the customer looks at, so that their choice stays open until somebody makes it."""


def serving(role: str) -> tuple[str, ...]:
    """The roles whose products serve a role: its own, then the one that it is cut from."""
    return (role, CUT_FROM[role]) if role in CUT_FROM else (role,)


def group_of(role: str) -> str:
    return GROUPS.get(role, "other")


def uplift_rate(uplift: Uplift | None) -> Fraction:
    """The uplift as a part of cost. A margin m of the selling price is a markup m / (1 - m) on cost."""
    if uplift is None:
        return Fraction(0)
    part = as_part(uplift.percent)
    if uplift.method == "markup":
        return part
    if part >= 1:
        raise ValueError(f"a margin of {uplift.percent} percent leaves nothing of the price for the cost")
    return part / (1 - part)


def rate_of_group(terms: Terms, group: str) -> Fraction:
    """The uplift of a role group, or the default one, or none."""
    return uplift_rate(terms.uplifts.get(group, terms.uplifts.get("default")))


def allowance_for(need: Need, terms: Terms) -> tuple[Allowance, Decimal] | None:
    """The stated price of the need's role, with the quantity that it counts; None where none can be used."""
    for role in serving(need.role):
        for allowance in terms.allowances:
            counted = _counted(need, allowance.unit)
            if allowance.role == role and counted is not None:
                return allowance, counted
    return None


def _counted(need: Need, unit: str) -> Decimal | None:
    """The need in the unit of an allowance: its own, or for tile also the square metre."""
    if unit == need.unit:
        return need.quantity
    return need.area_m2 if unit == "m2" else None
