"""The best choice among tiles that are known to be cut so, each as often as it helps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from service.takeoff.covering import Demand, fewest
from service.takeoff.kinds import Kind
from service.takeoff.patterns import Pattern

_NODES = 50


def chosen(
    kinds: Sequence[Kind],
    known: Sequence[Sequence[Sequence[int]]],
    further: Sequence[Pattern],
    bound: int,
) -> tuple[tuple[int, ...], ...] | None:
    """Fewer tiles than any of the `known` ways of cutting the same pieces takes, out of all tiles in them
    and of `further` patterns; None where none are found."""
    kind_of = {piece: kind for kind, each in enumerate(kinds) for piece in each.members}
    cut = (tuple(sorted(kind_of[piece] for piece in tile)) for way in known for tile in way)
    patterns = list(dict.fromkeys((*cut, *further)))
    columns = [list(Counter(pattern).items()) for pattern in patterns]
    demand = Demand([len(kind.members) for kind in kinds], columns)
    times = fewest(demand, bound, min(map(len, known)), _NODES)
    if times is None:
        return None
    tiles = [pattern for pattern, count in zip(patterns, times, strict=True) for _ in range(count)]
    return tuple(_dealt(kinds, tiles))


def _dealt(kinds: Sequence[Kind], tiles: Sequence[Sequence[int]]) -> Iterator[tuple[int, ...]]:
    """Pieces of the kinds that each tile gives, until none is left."""
    left = [iter(kind.members) for kind in kinds]
    for tile in tiles:
        pieces = tuple(piece for kind in tile if (piece := next(left[kind], None)) is not None)
        if pieces:
            yield pieces
