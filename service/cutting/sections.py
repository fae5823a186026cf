"""Strips ripped side by side from lengths of roll, and one after the other along what is ripped off.

A section is a length of roll cut off and ripped into lanes; a lane gives strips end to end. Lengths and
widths in hundredths of a millimetre. This is guillotine cutting in three stages (Gilmore and Gomory,
Operations Research 13, 1965), the last of which is the cutting of sections from rolls.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import NamedTuple

from service.cutting.effort import Effort

STEP = 100  # effort of trying one place for a strip


class Strip(NamedTuple):
    length: int
    width: int


Lane = tuple[Strip, ...]
Section = tuple[Lane, ...]
Sections = tuple[Section, ...]


def length_of(section: Section) -> int:
    return max(sum(strip.length for strip in lane) for lane in section)


def width_of(section: Section) -> int:
    return sum(max(strip.width for strip in lane) for lane in section)


class Roll(NamedTuple):
    """The roll's width, and the longest section that can be cut off."""

    width: int
    longest: int

    def ways(self, section: Section, strip: Strip) -> Iterator[Section]:
        """The section with the strip beside its lanes or at the end of one of them, where that fits."""
        longer = (_swapped(section, n, (*lane, strip)) for n, lane in enumerate(section))
        for way in ((*section, (strip,)), *longer):
            if width_of(way) <= self.width and length_of(way) <= self.longest:
                yield way

    def alone(self, strips: Iterable[Strip]) -> tuple[list[Strip], list[Strip]]:
        """Strips that no other fits beside, and the rest."""
        known = sorted(strips, key=lambda strip: (-strip.length, -strip.width))
        least = min((strip.width for strip in known), default=0)
        wide = [strip for strip in known if strip.width + least > self.width]
        narrow = [strip for strip in known if strip.width + least <= self.width]
        return (known, []) if len(narrow) == 1 else (wide, narrow)


def _swapped(section: Section, number: int, lane: Lane) -> Section:
    return (*section[:number], lane, *section[number + 1 :])


ORDERS: tuple[Callable[[Strip], tuple[int, ...]], ...] = (
    lambda strip: (-strip.length, -strip.width),
    lambda strip: (-strip.width, -strip.length),
    lambda strip: (-strip.width * strip.length, -strip.length),
)


def packings(strips: Sequence[Strip], roll: Roll, effort: Effort) -> Iterator[Sections]:
    """Each strip where the length of roll grows least, then where least width is left over: longest first,
    widest first and largest first, as far as the effort goes and once at least."""
    for order in ORDERS:
        yield _packed(sorted(strips, key=order), roll, effort)
        if effort.spent:
            return


def _packed(strips: Sequence[Strip], roll: Roll, effort: Effort) -> Sections:
    sections: list[Section] = []
    for strip in strips:
        ways = ((n, way) for n, section in enumerate(sections) for way in roll.ways(section, strip))
        ranked = [(length_of(way) - length_of(sections[n]), -width_of(way), n, way) for n, way in ways]
        effort.spend(STEP * (1 + len(sections)))
        growth, _, number, best = min(ranked, default=(strip.length, 0, 0, ()))
        if growth < strip.length:
            sections[number] = best
        else:
            sections.append(((strip,),))
    return tuple(sections)


def every_way(
    strips: Sequence[Strip], roll: Roll, most: Callable[[], int], effort: Effort
) -> Iterator[Sections]:
    """All ways whose sections are together no longer than `most`, the least growth first, until the effort
    is spent; ways that differ only in the order of sections or lanes may come once."""

    def place(number: int, sections: Sections, total: int) -> Iterator[Sections]:
        effort.spend(STEP)
        if effort.spent or total > most():
            return
        if number == len(strips):
            yield sections
            return
        for growth, more in sorted(_next(sections, strips[number], roll)):
            effort.spend(STEP * len(more))
            yield from place(number + 1, more, total + growth)

    return place(0, (), 0)


def _next(sections: Sections, strip: Strip, roll: Roll) -> set[tuple[int, Sections]]:
    """The sections with one strip more, and by how much they grow."""
    found = {(strip.length, tuple(sorted((*sections, ((strip,),)))))}
    for n, section in enumerate(sections):
        others = (*sections[:n], *sections[n + 1 :])
        for way in roll.ways(section, strip):
            grown = tuple(sorted((*others, tuple(sorted(way)))))
            found.add((length_of(way) - length_of(section), grown))
    return found
