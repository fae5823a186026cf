"""What the crew does and in which order: words are trade values, chosen by what is in each room."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from service.sentence import Sentence, filled
from service.takeoff import levelling
from service.takeoff.answer import Instruction
from service.takeoff.work_facts import Applies, WorkFacts, always, porous_and_bare
from service.trade.values import TradeValues


def take(rooms: Sequence[WorkFacts], values: TradeValues) -> tuple[Instruction, ...]:
    """The instructions in the order of building, each once with the rooms that it is for."""
    return tuple(
        Instruction(step, text, values.citation(f"crew.{key}"), names)
        for step, key, applies in INSTRUCTIONS
        for text, names in _said(key, (facts for facts in rooms if applies(facts)), values)
    )


def _said(
    key: str, rooms: Iterable[WorkFacts], values: TradeValues
) -> Iterator[tuple[Sentence, tuple[str, ...]]]:
    """The text as each room words it, rooms of the same wording together."""
    said: dict[Sentence, list[str]] = {}
    for facts in rooms:
        text = filled(values.word(f"crew.{key}"), facts.words)
        said.setdefault(text, []).append(facts.room.name)
    return ((text, tuple(dict.fromkeys(names))) for text, names in said.items())


def _mat(facts: WorkFacts) -> bool:
    return facts.room.membrane is not None


def _sealed(facts: WorkFacts) -> bool:
    return facts.needs("band")


def _covered_strip(facts: WorkFacts) -> bool:
    """A profile between floor and wall takes the place of the strip's top."""
    return facts.needs("perimeter_strip") and facts.needs("cove_profile")


def _dry_strip(facts: WorkFacts) -> bool:
    """Where walls are banded the strip would stand in the band's way."""
    return facts.needs("perimeter_strip") and not _banded_walls(facts)


def _sealed_strip(facts: WorkFacts) -> bool:
    return facts.needs("perimeter_strip") and _banded_walls(facts)


def _banded_walls(facts: WorkFacts) -> bool:
    return facts.needs("band")


def _embedded(facts: WorkFacts) -> bool:
    return _electric(facts) and levelling.cable_mm(facts.room, facts.values) > 0


def _under_screed(facts: WorkFacts) -> bool:
    return _embedded(facts) and facts.room.falls != "none"


def _under_compound(facts: WorkFacts) -> bool:
    return _embedded(facts) and facts.room.falls == "none"


def _held(facts: WorkFacts) -> bool:
    return _electric(facts) and not _embedded(facts)


def _profiled(facts: WorkFacts) -> bool:
    return facts.needs("edge_profile") or facts.needs("transition_profile")


def _at_once(facts: WorkFacts) -> bool:
    return _mat(facts) and not facts.does("flood_test")


def _open_strip(facts: WorkFacts) -> bool:
    return facts.needs("perimeter_strip") and not facts.needs("cove_profile")


def _combed(facts: WorkFacts) -> bool:
    return not _mat(facts)


def _large(facts: WorkFacts) -> bool:
    from_edge = facts.values.number("mortar.back_butter_edge")
    return max(tile.longest_edge for tile in facts.room.tiles) >= from_edge


def _full_small(facts: WorkFacts) -> bool:
    """Smaller tile whose back is buttered too, since nearly all of it must be held."""
    return facts.room.hardest_exposure != "dry" and not _large(facts)


def _electric(facts: WorkFacts) -> bool:
    return facts.needs("heating_cable")


INSTRUCTIONS: tuple[tuple[str, str, Applies], ...] = (
    ("prepare", "take_out", lambda facts: facts.does("remove_")),
    ("prepare", "grind", lambda facts: facts.does("grind")),
    ("prepare", "undercut", lambda facts: facts.does("undercut_jamb")),
    ("prepare", "clean", always),
    ("prime", "prime", lambda facts: facts.does("prime")),
    ("level", "cable_fix", _embedded),
    ("level", "cable", _embedded),
    ("level", "cable_embed", _under_compound),
    ("level", "cable_embed_screed", _under_screed),
    ("level", "level", lambda facts: facts.does("level")),
    ("level", "falls", lambda facts: facts.does("fall_screed")),
    ("membrane", "strip", _dry_strip),
    ("membrane", "dampen", porous_and_bare),
    ("membrane", "mix", _mat),
    ("membrane", "key_coat", _mat),
    ("membrane", "comb", _mat),
    ("membrane", "short_sections", _mat),
    ("membrane", "butt", _mat),
    ("membrane", "press", _mat),
    ("membrane", "lift_corner", _mat),
    ("membrane", "cable_lay", _held),
    ("membrane", "cable", _held),
    ("waterproofing", "corners_first", _sealed),
    ("waterproofing", "band", _sealed),
    ("waterproofing", "seals", lambda facts: facts.needs("pipe_seal") or facts.needs("drain_seal")),
    ("flood_test", "close_drain", lambda facts: facts.does("flood_test") and facts.needs("drain_seal")),
    ("flood_test", "flood", lambda facts: facts.does("flood_test")),
    ("setting", "tile_at_once", _at_once),
    ("setting", "strip_sealed", _sealed_strip),
    ("setting", "strip_down", _covered_strip),
    ("setting", "cove", lambda facts: facts.needs("cove_profile")),
    ("setting", "edges", _profiled),
    ("setting", "joint_profiles", lambda facts: facts.needs("movement_joint_profile")),
    ("setting", "fill_cavities", _mat),
    ("setting", "tile_key_coat", _combed),
    ("setting", "tile_comb", always),
    ("setting", "large_tile", _large),
    ("setting", "wet_backs", _full_small),
    ("setting", "ridges", always),
    ("setting", "lift_tile", always),
    ("setting", "soft_joints", always),
    ("grouting", "grout", always),
    ("grouting", "strip_off", _open_strip),
    ("finishing", "skirting", lambda facts: facts.does("skirting")),
    ("finishing", "seal", lambda facts: facts.needs("sealant")),
    ("finishing", "leaf", lambda facts: facts.does("trim_leaf")),
)
"""Stage of building, words and what must be so for them, in the order of work."""
