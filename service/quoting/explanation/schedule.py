"""Days, visits and waits: what the schedule rests on."""

from __future__ import annotations

from collections.abc import Mapping

from service.quoting.explanation.facts import decimal
from service.quoting.explanation.figures import Figures
from service.quoting.explanation.node import Node, said
from service.quoting.explanation.rooms import trade_values
from service.takeoff.answer import Wait

WORDS: Mapping[str, str] = {
    "visits": "times that the crew comes: the stages of work, parted by waits that are longer than a night",
    "working_days": "days with work: hours of each stage over what the crew does in a day",
    "days_alone": "working days on which one person comes for the few hours between two waits",
}


def add_schedule(figures: Figures) -> None:
    """Visits, days, crew and waits."""
    schedule = figures.facts.takeoff.schedule
    for name, words in WORDS.items():
        figures.add(f"/schedule/{name}", _days, figures, name, words, getattr(schedule, name))
    figures.add("/schedule/crew", _crew, figures)
    for place, wait in enumerate(schedule.waits):
        figures.add(f"/schedule/waits/{place}/hours", _wait, wait)


def _days(figures: Figures, name: str, words: str, value: int) -> Node:
    labour, source = figures.facts.labour, figures.facts.labour_source
    waits = (f"/schedule/waits/{place}/hours" for place in range(len(figures.facts.takeoff.schedule.waits)))
    day = said("hours of a day", decimal(labour.productive_hours_per_day), "h", source)
    parts = (
        *figures.all("/labour_hours/total", "/schedule/crew", *waits),
        day,
        *trade_values(figures, ("schedule.",)),
    )
    return Node(
        name.replace("_", " "), decimal(value), "d" if "day" in name else "1", "measured", words, parts
    )


def _crew(figures: Figures) -> Node:
    crew = decimal(figures.facts.takeoff.schedule.crew)
    return said("people of the crew", crew, "1", figures.facts.labour_source)


def _wait(wait: Wait) -> Node:
    return said(f"wait after {wait.after}", decimal(wait.hours), "h", wait.source, "trade value")
