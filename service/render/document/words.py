"""The fixed words of the house in English, as the catalogues know them: roles, work, rules, stages."""

from __future__ import annotations

from collections.abc import Mapping

from service.render.document.language import Tongue


def mark(text: str) -> str:
    """Marks a text for the catalogues; it is said later."""
    return text


ROLES: Mapping[str, str] = {
    "tile": mark("Tile"),
    "skirting_tile": mark("Tile for skirting"),
    "membrane": mark("Uncoupling membrane"),
    "band": mark("Sealing band"),
    "inside_corner": mark("Inside corner pieces"),
    "outside_corner": mark("Outside corner pieces"),
    "pipe_seal": mark("Pipe seals"),
    "drain_seal": mark("Drain seals"),
    "perimeter_strip": mark("Edge insulation strip"),
    "membrane_mortar": mark("Mortar under the membrane"),
    "tile_mortar": mark("Mortar under the tile"),
    "band_mortar": mark("Mortar for the sealing band"),
    "grout": mark("Grout"),
    "sealant": mark("Sealant"),
    "backer_rod": mark("Backer rod"),
    "bond_breaker_tape": mark("Bond breaker tape"),
    "movement_joint_profile": mark("Movement joint profiles"),
    "edge_profile": mark("Edge profiles"),
    "transition_profile": mark("Transition profiles"),
    "skirting_profile": mark("Skirting profiles"),
    "cove_profile": mark("Cove profiles"),
    "profile_fitting": mark("Profile fittings"),
    "levelling_compound": mark("Levelling compound"),
    "fall_screed": mark("Screed laid to falls"),
    "primer": mark("Primer"),
    "heating_cable": mark("Heating cable"),
    "disposal": mark("Disposal"),
    "protection": mark("Protection of the floor"),
}

ACTIVITIES: Mapping[str, str] = {
    "mobilise": mark("Setting up the site"),
    "day_work": mark("Day work"),
    "daily_setup": mark("Daily setting up and cleaning down"),
    "carry_distance": mark("Carrying material"),
    "carry_stairs": mark("Carrying material upstairs"),
    "remove_carpet": mark("Taking out carpet"),
    "remove_resilient": mark("Taking out resilient covering"),
    "remove_tile": mark("Taking out tile"),
    "remove_wood": mark("Taking out wood flooring"),
    "remove_laminate": mark("Taking out laminate"),
    "grind": mark("Grinding the ground"),
    "prime": mark("Priming"),
    "level": mark("Levelling"),
    "level_setup": mark("Setting up for levelling"),
    "fall_screed": mark("Laying screed to falls"),
    "lay_membrane": mark("Laying the membrane"),
    "lay_heating_cable": mark("Laying heating cable"),
    "band": mark("Sealing seams and edges"),
    "inside_corner": mark("Sealing inside corners"),
    "outside_corner": mark("Sealing outside corners"),
    "pipe_seal": mark("Sealing pipes"),
    "drain_seal": mark("Sealing drains"),
    "flood_test": mark("Flood test"),
    "set_mosaic": mark("Setting mosaic"),
    "set_small": mark("Setting small tile"),
    "set_medium": mark("Setting medium tile"),
    "set_large": mark("Setting large tile"),
    "set_extra_large": mark("Setting extra large tile"),
    "set_plank": mark("Setting planks"),
    "set_panel": mark("Setting panels"),
    "cut_straight": mark("Straight cuts"),
    "cut_diagonal": mark("Diagonal cuts"),
    "cut_notch_l": mark("Notches at corners"),
    "cut_notch_u": mark("Notches inside an edge"),
    "cut_hole": mark("Holes"),
    "cut_curve": mark("Curved cuts"),
    "grout": mark("Grouting"),
    "movement_joint": mark("Movement joints"),
    "sealant": mark("Sealing joints"),
    "profile": mark("Setting profiles"),
    "cove_profile": mark("Setting cove profiles"),
    "trim_leaf": mark("Trimming door leaves"),
    "skirting": mark("Setting skirting"),
    "undercut_jamb": mark("Undercutting door jambs"),
    "protect": mark("Protecting the floor"),
    "final_clean": mark("Final cleaning"),
}

RULES: Mapping[str, str] = {
    "added_load": mark("Added load"),
    "age": mark("Age of the ground"),
    "allowance": mark("Allowance"),
    "asbestos": mark("Asbestos"),
    "back_buttering": mark("Mortar on the back of the tile"),
    "band_notch": mark("Trowel for the band"),
    "beneath": mark("Beneath the old floor"),
    "bonded": mark("Hold of the old floor"),
    "bond_joint": mark("Joint of the bond"),
    "change_of_plane": mark("Change of plane"),
    "contact": mark("Mortar contact"),
    "deck": mark("Wood deck"),
    "deflection": mark("Deflection"),
    "doorway_adjoining": mark("Floor beyond the doorway"),
    "doorway_level": mark("Level at the doorway"),
    "doorway_step": mark("Step at the doorway"),
    "drying": mark("Drying"),
    "existing_covering": mark("Existing covering"),
    "exposure_class": mark("Exposure to water"),
    "fall": mark("Fall"),
    "fall_screed": mark("Screed laid to falls"),
    "flatness": mark("Flatness"),
    "flood_test": mark("Flood test"),
    "floor_to_wall": mark("From floor to wall"),
    "folds": mark("Folds of the floor"),
    "folds_hidden": mark("Folds of the floor"),
    "frost": mark("Frost"),
    "gypsum_and_water": mark("Gypsum and water"),
    "gypsum_thickness": mark("Thickness of the gypsum layer"),
    "heating": mark("Heating"),
    "heating_membrane": mark("Membrane over heating"),
    "heating_size": mark("Size of the heating cable"),
    "indoors_only": mark("For indoors only"),
    "joint": mark("Joint"),
    "joist_spacing": mark("Spacing of the joists"),
    "lippage": mark("Lippage"),
    "membrane": mark("Membrane"),
    "membrane_mortar": mark("Mortar under the membrane"),
    "membrane_notch": mark("Trowel for the membrane"),
    "moisture": mark("Moisture"),
    "movement_joint_cuts": mark("Movement joints through tile"),
    "movement_joint_filling": mark("Filling of movement joints"),
    "movement_joint_spacing": mark("Spacing of movement joints"),
    "movement_joint_width": mark("Width of movement joints"),
    "narrowest_piece": mark("Narrowest piece"),
    "notches": mark("Notches"),
    "offset": mark("Offset"),
    "one_system": mark("One system"),
    "osb": mark("Oriented strand board"),
    "perimeter_joint": mark("Perimeter joint"),
    "primer": mark("Primer"),
    "skirting": mark("Skirting"),
    "slip": mark("Slip"),
    "slivers": mark("Slivers"),
    "slope": mark("Slope"),
    "substrate": mark("Ground"),
    "substrate_joints": mark("Joints of the ground"),
    "tile_mortar": mark("Mortar under the tile"),
    "tile_notch": mark("Trowel for the tile"),
    "tile_on_membrane": mark("Tile on the membrane"),
    "tile_size": mark("Size of the tile"),
    "tile_weight": mark("Weight of the tile"),
    "tile_thickness": mark("Tile thickness"),
    "tile_material": mark("Tile material"),
    "stone": mark("Stone"),
    "water_stop": mark("Water stop"),
    "unneeded_choice": mark("Choice that is not needed"),
    "upstand": mark("Upstand"),
    "waits": mark("Waiting times"),
    "waterproofing": mark("Waterproofing"),
    "wet_zone": mark("Wet zone"),
    "work_size": mark("Work size"),
}

COVERINGS: Mapping[str, str] = {
    "carpet": mark("carpet"),
    "resilient": mark("resilient"),
    "tile": mark("tile"),
    "wood": mark("wood"),
    "laminate": mark("laminate"),
}

GROUNDS: Mapping[str, str] = {
    "absorbent": mark("absorbent"),
    "non_absorbent": mark("non-absorbent"),
    "calcium_sulfate": mark("gypsum-bound"),
    "wood": mark("wooden"),
}

LAYERS: Mapping[str, str] = {
    "tile": mark("tile"),
    "bonding_mortars": mark("bonding mortars"),
    "levelling_compound": mark("levelling compound"),
    "fall_screed": mark("fall screed"),
}

STAGES: Mapping[str, str] = {
    "prepare": mark("preparing the ground"),
    "prime": mark("priming"),
    "level": mark("levelling"),
    "membrane": mark("laying the membrane"),
    "waterproofing": mark("waterproofing"),
    "flood_test": mark("the flood test"),
    "setting": mark("setting the tile"),
    "grouting": mark("grouting"),
    "finishing": mark("finishing"),
}

PATTERNS: Mapping[str, str] = {
    "stack_bond": mark("stack bond"),
    "running_bond": mark("running bond"),
    "herringbone": mark("herringbone"),
    "basket_weave": mark("basket weave"),
    "hexagon": mark("hexagons"),
    "modular": mark("modular pattern"),
}

EXPOSURES: Mapping[str, str] = {
    "dry": mark("dry"),
    "wet": mark("wet"),
    "exterior": mark("outdoors"),
}

TILES: Mapping[str, str] = {
    "ceramic": mark("ceramic"),
    "porcelain": mark("porcelain"),
    "stone": mark("natural stone"),
}

UNITS: Mapping[str, str] = {
    "piece": mark("pcs"),
    "m2": "m²",
    "m": "m",
    "kg": "kg",
    "l": "l",
    "ml": "ml",
    "day": mark("days"),
}

STATES: Mapping[str, str] = {
    "draft": mark("This is a draft and no offer. It binds nobody before it is issued."),
    "accepted": mark("This quote was accepted."),
    "declined": mark("This quote was declined."),
    "withdrawn": mark("This quote was withdrawn and can no longer be accepted."),
    "expired": mark("This quote has expired and can no longer be accepted."),
    "superseded": mark("This revision was replaced by a later one and can no longer be accepted."),
}


def word(tongue: Tongue, words: Mapping[str, str], name: str) -> str:
    """The word for `name`; a name that has none yet is shown as it is."""
    return tongue.say(words[name]) if name in words else name.replace("_", " ").capitalize()
