"""How a run longer than every stick may be parted: with the fewest joints, and pieces that are not too short.

Two pieces p and q of a run lie in two sticks, beside others. Where p + q is longer than q's stick, q can take
all of its stick, for what lay beside q then fits beside the rest of p, which has become shorter by as much.
So of the ways with the fewest joints those are enough in which all pieces but one are whole sticks. Only
where that one, the rest, would be too short does a whole stick share its length with it; with the short rest
allowed nothing can be dearer, so that a bound for short rests holds for all ways.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

Pieces = tuple[int, ...]
"""The pieces of one run, in steps, the longest first."""

MOST_WAYS = 200
MOST_FILLINGS = 60
LEAST_FILLINGS = 4


@dataclass(frozen=True)
class Ways:
    """Ways to part a run: those that can be built, the plainest first; and those that bound all of them,
    none where these are too many."""

    built: tuple[Pieces, ...]
    bounding: tuple[Pieces, ...]


def ways_of(run: int, sticks: Sequence[int], least: int, fillings: Iterable[int]) -> Ways:
    """Ways to part a run [steps] longer than every stick, with no piece shorter than `least` where that can
    be. `fillings` are what other pieces take up of a stick, its cuts with them."""
    whole = list(_whole(run, sorted(set(sticks), reverse=True)))
    sharing = sorted({stick - filling for stick in set(sticks) for filling in fillings})
    built = dict.fromkeys(way for sticks_rest in whole for way in _built(*sticks_rest, least, sharing))
    bounding = tuple(_sorted((*pieces, rest)) for pieces, rest in whole)
    return Ways(tuple(built), bounding if len(bounding) < MOST_WAYS else ())


def _whole(run: int, sticks: Sequence[int]) -> Iterator[tuple[Pieces, int]]:
    """Whole sticks and the rest, which the longest one holds; the longest sticks first."""
    longest = sticks[0]
    joints = -(-run // longest) - 1
    found = 0

    def more(first: int, pieces: Pieces, rest: int) -> Iterator[tuple[Pieces, int]]:
        nonlocal found
        if rest > longest * (joints - len(pieces) + 1) or found >= MOST_WAYS:
            return
        if len(pieces) == joints:
            found += 1
            yield pieces, rest
            return
        for number in range(first, len(sticks)):
            if rest > sticks[number]:
                yield from more(number, (*pieces, sticks[number]), rest - sticks[number])

    return more(0, (), run)


def _built(pieces: Pieces, rest: int, least: int, sharing: Iterable[int]) -> Iterator[Pieces]:
    """The rest as it is, if it is long enough or nothing can be done; else shared with a whole stick."""
    both = [stick for stick in dict.fromkeys(pieces) if stick + rest >= 2 * least]
    if rest >= least or not both:
        yield _sorted((*pieces, rest))
        return
    for stick in both:
        others = list(pieces)
        others.remove(stick)
        together = stick + rest
        for part in (least, together // 2, *sharing):
            if least <= part <= together - least and together - part <= stick:
                yield _sorted((*others, part, together - part))


def _sorted(pieces: Iterable[int]) -> Pieces:
    return tuple(sorted(pieces, reverse=True))


def fillings_of(sizes: Sequence[int], longest: int, runs: int) -> list[int]:
    """What one or more pieces take up of a stick, their cuts with them: the fewest pieces first, and the
    fewer of these the more runs there are to be parted."""
    most = max(LEAST_FILLINGS, MOST_FILLINGS // runs)
    found: dict[int, None] = {}
    level = [0]
    while level and len(found) < most:
        level = sorted({one + size for one in level for size in sizes if one + size < longest} - set(found))
        found.update(dict.fromkeys(level))
    return list(found)[:most]
