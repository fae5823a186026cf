"""Baskets the long way: every choice there is, added up in fractions apart from the service; and one single
model that takes packs, suppliers and limits at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import product as every
from math import ceil, isfinite

import highspy
import numpy as np
from highspy._core import _Highs

from service.pricing.buying import Buying
from service.pricing.model import Need, Offer, PriceBook, Supplier
from tests.pricing.goods import D


@dataclass(frozen=True)
class Told:
    """A basket: what it is judged at and costs, and the product and supplier of each need."""

    judged: Fraction
    cost: Decimal
    picks: tuple[tuple[str, str], ...]


def price_of(offer: Offer, packs: int) -> Decimal:
    return [b.price for b in offer.breaks if b.min_packs <= packs][-1]


def least_mix(quantity: Decimal, offers: list[Offer], per_unit: Decimal) -> tuple[Decimal, Decimal]:
    """Goods and freight of the cheapest packs that cover the quantity: all counts are tried."""
    reach = [max(ceil(quantity / o.pack_size), o.breaks[-1].min_packs) for o in offers]
    best: tuple[Decimal, int, tuple[int, ...], Decimal] | None = None
    for counts in every(*(range(top + 1) for top in reach)):
        held = [n * o.pack_size for n, o in zip(counts, offers, strict=True)]
        if sum(held, D(0)) >= quantity:
            goods = sum((n * price_of(o, n) for n, o in zip(counts, offers, strict=True) if n), D(0))
            cost = goods + sum((size * per_unit for size in held), D(0))
            tried = cost, sum(counts), tuple(-n for n in sorted(counts)), goods
            best = min(best, tried) if best else tried
    assert best is not None
    return best[3], best[0] - best[3]


def all_baskets(needs: list[Need], book: PriceBook, buying: Buying) -> Iterator[Told]:
    """Each need a role of its own; one system for those that ask for one."""
    sellers = {s.id: s for s in book.suppliers}
    goods = {p.id: p for p in book.products}
    of_need = [
        sorted({(o.product, o.supplier) for o in book.offers if goods[o.product].role == need.role})
        for need in needs
    ]
    for picks in every(*of_need):
        systems = {goods[p].system for (p, _), need in zip(picks, needs, strict=True) if need.one_system}
        if len(systems) <= 1 and None not in systems:
            told = added_up(needs, picks, book, sellers, buying)
            if told:
                yield told


def added_up(
    needs: list[Need],
    picks: tuple[tuple[str, str], ...],
    book: PriceBook,
    sellers: dict[str, Supplier],
    buying: Buying,
) -> Told | None:
    """None where a limit is broken."""
    order: dict[str, tuple[Decimal, Decimal]] = {}
    for need, (product, supplier) in zip(needs, picks, strict=True):
        offers = [o for o in book.offers if (o.product, o.supplier) == (product, supplier)]
        weight = next(p.weight_kg for p in book.products if p.id == product) or D(0)
        paid, freight = least_mix(need.quantity, offers, weight * sellers[supplier].freight_per_kg)
        had = order.get(supplier, (D(0), D(0)))
        order[supplier] = had[0] + paid, had[1] + freight
    if buying.max_suppliers is not None and len(order) > buying.max_suppliers:
        return None
    if any(paid < (sellers[s].minimum_order or 0) for s, (paid, _) in order.items()):
        return None
    cost, judged = D(0), Fraction(0)
    for id_, (paid, freight) in order.items():
        seller = sellers[id_]
        free = seller.free_delivery_over is not None and paid >= seller.free_delivery_over
        whole = paid + freight + seller.carry_in + (0 if free else seller.delivery_charge)
        other = bool(buying.preferred) and id_ not in buying.preferred
        cost += whole
        judged += Fraction(whole) * (1 + Fraction(buying.tolerated_extra_percent) / 100 * other)
    return Told(judged, cost, picks)


class Monolith:
    """One model of it all: a whole number of packs of each offer at each of its price breaks."""

    def __init__(self, needs: list[Need], book: PriceBook, buying: Buying) -> None:
        self.costs: list[float] = []
        self.upper: list[float] = []
        self.rows: list[tuple[float, float, dict[int, float]]] = []
        self.needs, self.book, self.buying = needs, book, buying
        self.goods = {p.id: p for p in book.products}
        self.value: dict[str, dict[int, float]] = {s.id: {} for s in book.suppliers}
        self.used = {s.id: self.column(float(s.delivery_charge + s.carry_in), 1) for s in book.suppliers}
        systems = sorted({p.system for p in book.products if p.system})
        self.system = {system: self.column(0.0, 1) for system in systems}
        if any(need.one_system for need in needs):
            self.rows.append((1, 1, dict.fromkeys(self.system.values(), 1.0)))
        for need in needs:
            self.add_need(need)
        for seller in book.suppliers:
            self.add_limits(seller)
        if buying.max_suppliers is not None:
            self.rows.append((0, buying.max_suppliers, dict.fromkeys(self.used.values(), 1.0)))

    def column(self, cost: float, upper: float) -> int:
        self.costs.append(cost)
        self.upper.append(upper)
        return len(self.costs) - 1

    def add_need(self, need: Need) -> None:
        picks: dict[int, float] = {}
        pairs = {(o.product, o.supplier) for o in self.book.offers if self.goods[o.product].role == need.role}
        for product, supplier in sorted(pairs):
            system = self.goods[product].system
            if need.one_system and system is None:
                continue
            pick = self.column(0.0, 1)
            picks[pick] = 1.0
            self.rows.append((-np.inf, 0, {pick: 1.0, self.used[supplier]: -1.0}))
            if need.one_system and system is not None:
                self.rows.append((-np.inf, 0, {pick: 1.0, self.system[system]: -1.0}))
            self.add_packs(need, pick, product, supplier)
        self.rows.append((1, 1, picks))

    def add_packs(self, need: Need, pick: int, product: str, supplier: str) -> None:
        offers = [o for o in self.book.offers if (o.product, o.supplier) == (product, supplier)]
        seller = next(s for s in self.book.suppliers if s.id == supplier)
        weight = float((self.goods[product].weight_kg or D(0)) * seller.freight_per_kg)
        covers: dict[int, float] = {pick: -float(need.quantity)}
        for offer in offers:
            most = max(ceil(need.quantity / offer.pack_size), offer.breaks[-1].min_packs)
            ends = [*(b.min_packs - 1 for b in offer.breaks[1:]), most]
            at: dict[int, float] = {pick: -1.0}
            for level, end in zip(offer.breaks, ends, strict=True):
                packs = self.column(float(level.price) + float(offer.pack_size) * weight, end)
                chosen = self.column(0.0, 1)
                at[chosen] = 1.0
                covers[packs] = float(offer.pack_size)
                self.value[supplier][packs] = float(level.price)
                self.rows.append((-np.inf, 0, {packs: 1.0, chosen: -float(end)}))
                self.rows.append((0, np.inf, {packs: 1.0, chosen: -float(level.min_packs)}))
            self.rows.append((-np.inf, 0, at))
        self.rows.append((0, np.inf, covers))

    def add_limits(self, seller: Supplier) -> None:
        used, goods = self.used[seller.id], self.value[seller.id]
        if seller.free_delivery_over is not None:
            free = self.column(-float(seller.delivery_charge), 1)
            self.rows.append((-np.inf, 0, {free: 1.0, used: -1.0}))
            self.rows.append((0, np.inf, {**goods, free: -float(seller.free_delivery_over)}))
        if seller.minimum_order:
            self.rows.append((0, np.inf, {**goods, used: -float(seller.minimum_order)}))

    def solve(self) -> float | None:
        """What the best basket costs, None where there is none."""
        highs = _Highs()
        for option, value in {
            "output_flag": False,
            "threads": 1,
            "mip_rel_gap": 0.0,
            "mip_abs_gap": 1e-4,
        }.items():
            highs.setOptionValue(option, value)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.costs), len(self.rows)
        lp.col_cost_, lp.col_lower_ = np.array(self.costs), np.zeros(len(self.costs))
        lp.col_upper_ = np.array(self.upper, dtype=float)
        lp.row_lower_ = np.array([row[0] for row in self.rows], dtype=float)
        lp.row_upper_ = np.array([row[1] for row in self.rows], dtype=float)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(row[2]) for row in self.rows)], dtype=np.int32)
        lp.a_matrix_.index_ = np.array([c for row in self.rows for c in row[2]], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([v for row in self.rows for v in row[2].values()])
        lp.integrality_ = [highspy.HighsVarType.kInteger] * len(self.costs)
        highs.passModel(lp)
        highs.run()
        if highs.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return None
        value: float = highs.getInfo().objective_function_value
        assert isfinite(value)
        return value
