"""Sentences of the take-off in a document's language, their figures in its way and its units."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from string import Formatter

from service.render.document.blocks import Words
from service.render.document.language import SOURCE, Tongue
from service.render.document.text import isolated
from service.render.document.words import COVERINGS, GROUNDS, LAYERS, ROLES, word
from service.render.lengths import length_text
from service.sentence import Figure, Sentence, parted, specs
from service.units import MM_PER_INCH, to_us

TABLES: Mapping[str, Mapping[str, str]] = {
    "covering": COVERINGS,
    "ground": GROUNDS,
    "layer": LAYERS,
    "role": ROLES,
}
"""The tables that a template's fields name."""
CONVERTED = ".3g"
"""How a figure that is written in full is written in another unit."""
ENGLISH = "english"
"""The mark of words that have no translation, so that their sentence stays English and is marked so."""
FINE = 32
"""Parts of an inch for lengths under an inch, where a sixteenth may hide what is told [common practice]."""


def told(speak: Tongue, said: Sentence | str) -> Words:
    """The sentence in the document's language; in English, and marked so, where a catalogue lacks it."""
    if not isinstance(said, Sentence):
        return speak.fixed(said)
    text = _translated(speak, said)
    return Words(said, SOURCE) if text is None else Words(text)


def _translated(speak: Tongue, said: Sentence) -> str | None:
    template = speak.known(said.template) or (said.template if _wordless(said.template) else None)
    figures = {name: _written(speak, said.figures[name], spec) for name, spec in specs(said.template).items()}
    if template is None or None in figures.values():
        return None
    return _WRITER.vformat(template, (), figures)


def _wordless(template: str) -> bool:
    """Whether it only puts sentences side by side."""
    return not any(c.isalpha() for text, *_ in Formatter().parse(template) for c in text)


def _written(speak: Tongue, figure: Figure, spec: str) -> str | None:
    if isinstance(figure, Sentence):
        return _translated(speak, figure)
    return _words(speak, figure, spec) if isinstance(figure, str) else _number(speak, figure, *parted(spec))


def _words(speak: Tongue, said: str, spec: str) -> str | None:
    """The word of a table, as it stands amid a sentence; else what somebody typed or a sign."""
    if spec == ENGLISH:
        return said if speak.code == SOURCE else None
    if spec not in TABLES:
        return isolated(said)
    found = word(speak, TABLES[spec], said.replace(" ", "_"))
    return found if speak.code == "de" else found[0].lower() + found[1:]


def _number(speak: Tongue, value: float, form: str, unit: str) -> str:
    if form.endswith("%"):
        return speak.percent(Decimal(f"{100 * value:{form[:-1]}f}"))
    if speak.us_units and unit in ("mm", "m"):
        return _us_length(value if unit == "mm" else value * 1000)
    hidden = unit.startswith("(")
    number, unit = to_us(value, unit.strip("()")) if speak.us_units else (value, unit)
    form = CONVERTED if number != value and form == "g" else form
    written = speak.number(Decimal(f"{number:{form}}"), places=9)
    return written if hidden or not unit else f"{written}\N{NO-BREAK SPACE}{unit.replace('2', '²')}"


def _us_length(millimetres: float) -> str:
    small = abs(millimetres) < MM_PER_INCH
    return length_text(millimetres, "us", FINE) if small else length_text(millimetres, "us")


class _Writer(Formatter):
    """Fills templates with what is written already."""

    def format_field(self, value: object, format_spec: str) -> str:
        return str(value)


_WRITER = _Writer()
