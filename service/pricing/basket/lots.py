"""Needs that may share a product, and every way to buy them together from one supplier."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import product as every_combination
from math import prod

from service.pricing.buying import Source, Why
from service.pricing.market import Market, Purchase
from service.pricing.model import Need, Product, Supplier

MOST_WAYS = 200
"""Ways to share the products of one supplier and system between the needs of a lot, beyond which only these
are tried: each need its own cheapest, and each product for all needs that it fits."""

Offered = tuple[Product, Supplier]
Barred = Mapping[str, Why]
"""Suppliers who may not be used, by id."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to buy a lot: purchases, each with the places of the needs that it serves. `system` is the one
    that its needs ask for; `barred` says why it may not be taken."""

    purchases: tuple[tuple[Purchase, tuple[int, ...]], ...]
    system: str | None
    barred: Why | None

    @property
    def cost(self) -> int:
        return sum(purchase.cost for purchase, _ in self.purchases)

    @property
    def sources(self) -> tuple[Source, ...]:
        return tuple(
            Source(p.product.id, p.product.name, p.supplier.id, p.supplier.name) for p, _ in self.purchases
        )


@dataclass(frozen=True, slots=True)
class Lot:
    """Needs bought together, by their places, and the ways to buy them; `all_tried` where these are all."""

    role: str
    places: tuple[int, ...]
    ways: tuple[Way, ...]
    all_tried: bool


def lots_of(
    needs: Sequence[Need], products: Sequence[Sequence[Product]], market: Market, barred: Barred
) -> list[Lot]:
    """Needs linked by a product that could serve both are one lot, in the order of their first."""
    return [
        _Ways(
            {place: needs[place] for place in places}, {p: products[p] for p in places}, market, barred
        ).lot()
        for places in _linked(products)
    ]


def _linked(products: Sequence[Sequence[Product]]) -> list[list[int]]:
    groups: list[tuple[set[str], list[int]]] = []
    for place, of_need in enumerate(products):
        ids = {product.id for product in of_need}
        touching = [group for group in groups if group[0] & ids]
        joined = ids.union(*(group[0] for group in touching))
        places = sorted([place, *(p for group in touching for p in group[1])])
        groups = [*(group for group in groups if group not in touching), (joined, places)]
    return sorted(places for _, places in groups)


class _Ways:
    def __init__(
        self, needs: dict[int, Need], products: dict[int, Sequence[Product]], market: Market, barred: Barred
    ) -> None:
        self._needs, self._products = needs, products
        self._market, self._barred = market, barred
        self._all_tried = True
        self._fullest = {place: self._most(place) for place, need in needs.items() if need.limits}

    def lot(self) -> Lot:
        ways = [way for system in self._systems() for way in self._of_system(system)]
        places = tuple(self._needs)
        return Lot(self._needs[places[0]].role, places, tuple(ways), self._all_tried)

    def _systems(self) -> list[str | None]:
        """Those of the products for needs of one system; a lot without such needs has one way to look."""
        jointly = [place for place, need in self._needs.items() if need.one_system]
        found = {p.system for place in jointly for p in self._products[place]}
        return sorted(found, key=lambda system: (system is None, system)) if jointly else [None]

    def _of_system(self, system: str | None) -> list[Way]:
        """From one supplier each; where none that may be used has everything, from several."""
        ways = [
            way
            for supplier in self._market.suppliers
            for way in self._tried(self._offered(system, [supplier]), system, self._barred.get(supplier.id))
        ]
        if all(way.barred for way in ways):
            open_ = [s for s in self._market.suppliers if s.id not in self._barred]
            ways.extend(self._tried(self._offered(system, open_), system, None))
        return ways

    def _offered(self, system: str | None, suppliers: Sequence[Supplier]) -> list[list[Offered]]:
        return [
            [
                (product, supplier)
                for product in self._products[place]
                if not need.one_system or product.system == system
                for supplier in suppliers
                if self._market.sells(supplier, product) and self._full(place, product, supplier)
            ]
            for place, need in self._needs.items()
        ]

    def _most(self, place: int) -> Decimal:
        """The most that goes into what must not be exceeded, from anyone who may be used."""
        open_ = [s for s in self._market.suppliers if s.id not in self._barred] or self._market.suppliers
        sold = [(p, s) for p in self._products[place] for s in open_ if self._market.sells(s, p)]
        return max((self._filled(place, *one) for one in sold), default=Decimal(0))

    def _full(self, place: int, product: Product, supplier: Supplier) -> bool:
        if place not in self._fullest:
            return True
        return self._filled(place, product, supplier) >= self._fullest[place] > 0

    def _filled(self, place: int, product: Product, supplier: Supplier) -> Decimal:
        bought = self._market.purchase(product, supplier, [self._needs[place]]).bought
        return sum((packs * offer.pack_size for offer, packs in bought), Decimal(0))

    def _tried(self, offered: list[list[Offered]], system: str | None, barred: Why | None) -> Iterator[Way]:
        """Every way to give each need one of what is offered for it."""
        lost = system is None and any(need.one_system for need in self._needs.values())
        if prod(map(len, offered)) > MOST_WAYS:
            self._all_tried = False
            combinations = self._likely(offered)
        else:
            combinations = list(every_combination(*offered))
        for chosen in combinations:
            yield Way(self._bought(chosen), system, barred or ("one_system" if lost else None))

    def _likely(self, offered: list[list[Offered]]) -> list[tuple[Offered, ...]]:
        alone = tuple(
            self._cheapest(need, some) for need, some in zip(self._needs.values(), offered, strict=True)
        )
        shared = _distinct(offered)
        each = [
            tuple(one if one in some else own for some, own in zip(offered, alone, strict=True))
            for one in shared
        ]
        return [alone, *each][:MOST_WAYS]

    def _cheapest(self, need: Need, offered: Sequence[Offered]) -> Offered:
        return min(offered, key=lambda one: self._market.purchase(one[0], one[1], [need]).cost)

    def _bought(self, chosen: Sequence[Offered]) -> tuple[tuple[Purchase, tuple[int, ...]], ...]:
        together: dict[tuple[str, str], tuple[Offered, list[int]]] = {}
        for place, one in zip(self._needs, chosen, strict=True):
            together.setdefault((one[0].id, one[1].id), (one, []))[1].append(place)
        return tuple(
            (self._market.purchase(one[0], one[1], [self._needs[place] for place in places]), tuple(places))
            for one, places in together.values()
        )


def _distinct(offered: Sequence[Sequence[Offered]]) -> list[Offered]:
    """Each product and supplier once."""
    return list({(one[0].id, one[1].id): one for some in offered for one in some}.values())
