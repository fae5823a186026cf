"""What the crew brings along, chosen by the work; words are trade values."""

from __future__ import annotations

from collections.abc import Sequence

from service.sentence import Sentence, filled
from service.takeoff.work_facts import Applies, WorkFacts, always
from service.trade.values import TradeValues


def take(rooms: Sequence[WorkFacts], values: TradeValues) -> tuple[Sentence, ...]:
    """Each tool once, in the order of building."""
    return tuple(
        dict.fromkeys(
            filled(values.word(f"tool.{key}"), facts.words)
            for key, applies in TOOLS
            for facts in rooms
            if applies(facts)
        )
    )


def does(*activities: str) -> Applies:
    """Whether work of one of these beginnings is in the room."""
    return lambda facts: facts.does(*activities)


TOOLS: tuple[tuple[str, Applies], ...] = (
    ("straightedge", always),
    ("moisture_meter", lambda facts: bool(facts.words["meter"])),
    ("masks", always),
    ("vacuum", always),
    ("scraper", does("remove_")),
    ("grinder", does("grind")),
    ("primer_roller", does("prime")),
    ("gauge_rake", does("level")),
    ("laser", does("fall_screed")),
    ("mixer", always),
    ("membrane_trowel", does("lay_membrane")),
    ("roller", does("lay_membrane")),
    ("knife", does("lay_membrane")),
    ("cable_meter", does("lay_heating_cable")),
    ("band_trowel", does("band")),
    ("test_dam", does("flood_test")),
    ("tile_trowel", always),
    ("margin_trowel", always),
    ("mallet", always),
    ("snap_cutter", does("cut_straight", "cut_diagonal")),
    ("wet_saw", does("cut_straight", "cut_diagonal", "cut_notch", "cut_curve", "skirting")),
    ("hole_saw", does("cut_hole")),
    ("lifter", does("set_panel")),
    ("mitre_saw", does("profile", "movement_joint")),
    ("jamb_saw", does("undercut_jamb")),
    ("grout_float", does("grout")),
    ("cartridge_gun", does("sealant")),
)
"""Each tool with the work that wants it."""
