"""The roles that a product can have, each with the unit in which it is counted."""

from __future__ import annotations

from collections.abc import Mapping

UNIT_OF_ROLE: Mapping[str, str] = {
    "tile": "piece",
    "skirting_tile": "piece",
    "membrane": "m2",
    "band": "m",
    "inside_corner": "piece",
    "outside_corner": "piece",
    "pipe_seal": "piece",
    "drain_seal": "piece",
    "perimeter_strip": "m",
    "membrane_mortar": "kg",
    "tile_mortar": "kg",
    "band_mortar": "kg",
    "grout": "kg",
    "sealant": "ml",
    "backer_rod": "m",
    "bond_breaker_tape": "m",
    "movement_joint_profile": "m",
    "edge_profile": "m",
    "transition_profile": "m",
    "skirting_profile": "m",
    "cove_profile": "m",
    "profile_fitting": "piece",
    "levelling_compound": "kg",
    "fall_screed": "kg",
    "primer": "l",
    "heating_cable": "m2",
    "disposal": "m2",
    "protection": "m2",
}
