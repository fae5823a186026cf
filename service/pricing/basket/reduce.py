"""Options that some other option is at least as good as, whatever else is bought, left out."""

from __future__ import annotations

from collections import defaultdict

from service.pricing.basket.problem import Option, Problem, Seller

_Alike = tuple[int, int | None]


def reduced(problem: Problem) -> Problem:
    """The same optimum with fewer options: of those of one seller and system, the ones that buy more goods
    for more money, where the seller has a limit for goods to reach; else the cheapest."""
    lots = tuple(_undominated(lot, problem) for lot in problem.lots)
    return problem._replace(lots=lots)


def _undominated(lot: tuple[Option, ...], problem: Problem) -> tuple[Option, ...]:
    """The best first."""
    kept: list[Option] = []
    most: dict[_Alike, int] = defaultdict(lambda: -1)
    for option in sorted(lot, key=lambda option: (problem.judged(option), -_goods(option, problem.sellers))):
        if len(option.parts) > 1:
            kept.append(option)
            continue
        alike = option.parts[0].seller, option.system
        if _goods(option, problem.sellers) > most[alike]:
            most[alike] = _goods(option, problem.sellers)
            kept.append(option)
    return tuple(kept)


def _goods(option: Option, sellers: tuple[Seller, ...]) -> int:
    """What counts towards a limit, where there is one."""
    return sum(part.goods for part in option.parts if sellers[part.seller].limited)
