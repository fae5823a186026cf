"""The basket: for all needs together the products, packs and suppliers that cost least.

Every need's packs are mixed by dynamic programming for each product and supplier; which of these to take is
decided for all at once, with what every supplier charges for an order beside its goods.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.pricing.basket.deciding import Deciding, deciding
from service.pricing.basket.lots import Barred, Lot, lots_of
from service.pricing.basket.problem import Problem
from service.pricing.basket.ranking import Choice
from service.pricing.basket.search import Outcome, solve
from service.pricing.basket.told import Teller
from service.pricing.buying import Basket, Buying, Excluded, Why
from service.pricing.choose import candidates, system_gap
from service.pricing.market import Market, Purchase
from service.pricing.model import Gap, Need, Product, Rounding

FIELDS: dict[Why, str] = {
    "lead_time": "/start_date",
    "region": "/buying/region",
    "preferred_supplier": "/buying/preferred",
    "supplier_limit": "/buying/max_suppliers",
    "minimum_order": "/buying",
    "not_searched": "/buying",
}

CLOSED: dict[Why, str] = {
    "lead_time": "no supplier can deliver a fitting {role} before the start date",
    "region": "no supplier who delivers in the region sells a fitting {role}",
    "preferred_supplier": "no preferred supplier sells a fitting {role}",
}
"""Why suppliers may not be used, the nearest reason first."""

ALL = "all that is bought"
"""In place of a role, where no one need is at fault."""


@dataclass(frozen=True, slots=True)
class Filled:
    """What is bought, each purchase with the needs that it serves, in the order of these; or the gaps."""

    bought: tuple[tuple[Purchase, tuple[Need, ...]], ...] = ()
    basket: Basket | None = None
    gaps: tuple[Gap, ...] = ()


def fill(
    needs: Sequence[Need], market: Market, buying: Buying, rounding: Rounding, days_to_start: int | None
) -> Filled:
    """Buy for all needs; `days_to_start` are the calendar days from the order until the goods are needed."""
    if not needs:
        return Filled()
    found = [candidates(need, market) for need in needs]
    products = [[] if isinstance(some, Gap) else some for some in found]
    gaps = [some for some in found if isinstance(some, Gap)]
    unmet = {place for place, some in enumerate(found) if isinstance(some, Gap)}
    barred = _barred(market, buying, days_to_start)
    if not any(needs[place].one_system for place in unmet):
        gaps += [gap for gap in [system_gap(needs, products)] if gap]
    if not gaps:
        gaps = _shut(needs, products, market, barred)
    return Filled(gaps=tuple(gaps)) if gaps else _filled(needs, products, market, buying, rounding, barred)


def _barred(market: Market, buying: Buying, days_to_start: int | None) -> dict[str, Why]:
    barred: dict[str, Why] = {}
    for supplier in market.suppliers:
        if buying.mode == "preferred_only" and supplier.id not in buying.preferred:
            barred[supplier.id] = "preferred_supplier"
        if not buying.reached_by(supplier.region):
            barred[supplier.id] = "region"
        if days_to_start is not None and supplier.lead_time_days > days_to_start:
            barred[supplier.id] = "lead_time"
    return barred


def _shut(
    needs: Sequence[Need], products: Sequence[Sequence[Product]], market: Market, barred: Barred
) -> list[Gap]:
    """Gaps for what only suppliers sell who may not be used."""
    if not barred:
        return []
    open_ = [supplier for supplier in market.suppliers if supplier.id not in barred]
    left = [
        [p for p in some if any(market.serves(s, p, need) for s in open_)]
        for need, some in zip(needs, products, strict=True)
    ]
    gaps = [
        _closed(need.role, _reason(some, market, barred))
        for need, some, still in zip(needs, products, left, strict=True)
        if not still
    ]
    apart = None if gaps else system_gap(needs, left)
    if apart:
        told = _closed(apart.role, _reason([p for some in products for p in some], market, barred))
        gaps.append(replace(told, message=f"{told.message}: {apart.message}"))
    return gaps


def _reason(products: Sequence[Product], market: Market, barred: Barred) -> Why:
    """Too late before out of reach before not preferred, where several stand in the way."""
    reasons = {
        barred[s.id] for s in market.suppliers for p in products if s.id in barred and market.sells(s, p)
    }
    return next((why for why in CLOSED if why in reasons), "preferred_supplier")


def _closed(role: str, reason: Why) -> Gap:
    return Gap(role, reason, CLOSED[reason].format(role=role), FIELDS[reason])


def _filled(
    needs: Sequence[Need],
    products: Sequence[Sequence[Product]],
    market: Market,
    buying: Buying,
    rounding: Rounding,
    barred: Barred,
) -> Filled:
    lots = lots_of(needs, products, market, barred)
    decided = deciding(lots, market.suppliers, buying, rounding)
    outcome = solve(decided.problem)
    if outcome.choice is None:
        return Filled(gaps=(_no_basket(decided, outcome),))
    teller = Teller(decided, outcome, outcome.choice, rounding)
    return Filled(_bought(needs, decided, outcome.choice), teller.basket(_excluded(lots, market, barred)))


def _bought(
    needs: Sequence[Need], decided: Deciding, choice: Choice
) -> tuple[tuple[Purchase, tuple[Need, ...]], ...]:
    bought = sorted(
        ((places, purchase) for way in decided.ways(choice) for purchase, places in way.purchases),
        key=lambda one: one[0],
    )
    return tuple((purchase, tuple(needs[place] for place in places)) for places, purchase in bought)


def _excluded(lots: Sequence[Lot], market: Market, barred: Barred) -> list[Excluded]:
    """Suppliers who sell something of what is needed and may not be used."""
    selling = {source.supplier for lot in lots for way in lot.ways for source in way.sources}
    return [
        Excluded(s.id, s.name, barred[s.id]) for s in market.suppliers if s.id in barred and s.id in selling
    ]


def _no_basket(decided: Deciding, outcome: Outcome) -> Gap:
    """Which limit leaves no basket: that of suppliers, their minimum orders, or that of the search."""
    problem = decided.problem
    if not outcome.impossible:
        return _limit("not_searched", "no basket was found within the limit of the search")
    if problem.most is not None and solve(problem._replace(most=None)).choice is not None:
        least = _fewest(problem, problem.most)
        return _limit(
            "supplier_limit",
            f"{problem.most} suppliers cannot deliver all of it; it takes {least} or more",
        )
    names = ", ".join(
        f"{supplier.name} ({supplier.minimum_order})"
        for supplier in decided.suppliers
        if supplier.minimum_order
    )
    return _limit("minimum_order", f"no basket reaches the minimum orders of its suppliers: {names}")


def _fewest(problem: Problem, too_few: int) -> int:
    """The number of suppliers from which a basket can be had."""
    return next(
        most
        for most in range(too_few + 1, len(problem.sellers) + 1)
        if solve(problem._replace(most=most)).choice is not None
    )


def _limit(reason: Why, message: str) -> Gap:
    return Gap(ALL, reason, message, FIELDS[reason])
