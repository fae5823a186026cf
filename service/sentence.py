"""Sentences that can be said again in another language: a template in English, and its figures.

A field of a template names its figure and, behind the colon, how it is written and its unit, as in
"{edge:g mm}", "{length:.2f m}" or "{share:.0%}"; a unit in brackets is said elsewhere in the sentence. For
words it may tell the table that they are from ("{role:role}"). A translation has the names alone ("{edge}").
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import lru_cache
from numbers import Integral
from string import Formatter
from typing import Self, SupportsFloat

_TEMPLATES = 4096  # that are kept read; the service has fewer

Figure = float | str
"""A number, or words: a sentence is translated with the one that it is in, other words stay as they are."""


class Sentence(str):
    """The sentence in English, which knows its template and its figures."""

    template: str
    figures: Mapping[str, Figure]

    def __new__(cls, template: str, figures: Mapping[str, Figure]) -> Self:
        said = super().__new__(cls, "".join(_written(template, figures)))
        said.template, said.figures = template, dict(figures)
        return said

    def __getnewargs__(self) -> tuple[str, Mapping[str, Figure]]:  # type: ignore[override]
        return self.template, self.figures


def say(template: str, **figures: SupportsFloat | str) -> Sentence:
    """The sentence of this template; KeyError where a figure of it is missing."""
    return Sentence(template, {name: _plain(figure) for name, figure in figures.items()})


def filled(template: str, known: Mapping[str, Figure]) -> Sentence:
    """The sentence of a template that names some of what is known."""
    return Sentence(template, {name: known[name] for name in specs(template)})


def listed(parts: Iterable[Sentence], between: str = ", ") -> Sentence:
    """The parts one behind the other; no language changes that."""
    named = {f"part{number}": part for number, part in enumerate(parts)}
    return Sentence(between.join(f"{{{name}}}" for name in named), named)


def specs(template: str) -> dict[str, str]:
    """How each figure of the template is written, by its name."""
    return {name: spec for _, name, spec in _pieces(template) if name}


def parted(spec: str) -> tuple[str, str]:
    """The format of a number and its unit: ".2f m" is ".2f" and "m"."""
    form, _, unit = spec.partition(" ")
    return form, unit


def shown(number: str, unit: str) -> str:
    """A number as written, with its unit where that is not said elsewhere."""
    return number if not unit or unit.startswith("(") else f"{number} {unit}"


def _plain(figure: SupportsFloat | str) -> Figure:
    if isinstance(figure, str):
        return figure
    return int(figure) if isinstance(figure, Integral) else float(figure)


@lru_cache(_TEMPLATES)
def _pieces(template: str) -> tuple[tuple[str, str, str], ...]:
    """Words of the template, each with the name and the spec of the figure behind it, empty at the end."""
    return tuple((words, name or "", spec or "") for words, name, spec, _ in Formatter().parse(template))


def _written(template: str, figures: Mapping[str, Figure]) -> Iterator[str]:
    for words, name, spec in _pieces(template):
        yield words
        if name:
            yield _figure(figures[name], spec)


def _figure(figure: Figure, spec: str) -> str:
    if isinstance(figure, str):
        return figure
    form, unit = parted(spec)
    return shown(f"{figure:{form}}", unit)
