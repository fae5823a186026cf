"""The price book, indexed: which product is sold by whom, and what a quantity of it costs in whole packs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import ceil

from service.cutting.runs import CutLengths
from service.pricing.lengths import lengths_of
from service.pricing.model import Cutting, Need, Offer, PriceBook, PriceBreak, Product, Rounding, Supplier
from service.pricing.packs import Extras, Mix, PackMixes, in_minor, pack_price
from service.pricing.sets import set_mix
from service.pricing.split_sizes import cut_with_split

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Purchase:
    """A quantity of one product from one supplier.

    `goods` are the packs at their prices, `cost` also their freight and surcharges: minor units, each line
    of them rounded. `gap` is by how much the cost may miss the least, rounded up.
    """

    product: Product
    supplier: Supplier
    offers: tuple[Offer, ...]
    mix: Mix
    goods: int
    cost: int
    cutting: Cutting | None = None
    gap: int = 0

    @property
    def bought(self) -> Iterator[tuple[Offer, int]]:
        """The offers of which packs are bought, and how many."""
        return ((offer, packs) for offer, packs in zip(self.offers, self.mix.counts, strict=True) if packs)


class Market:
    """A price book ready to be asked, in whole minor units rounded as `rounding` says."""

    def __init__(self, book: PriceBook, rounding: Rounding) -> None:
        self._rounding = rounding
        self._products = {product.id: product for product in book.products}
        self._by_role: dict[str, list[Product]] = defaultdict(list)
        for product in sorted(book.products, key=lambda product: (product.name, product.id)):
            self._by_role[product.role].append(product)
        self.suppliers = tuple(sorted(book.suppliers, key=lambda supplier: (supplier.name, supplier.id)))
        self._offers: dict[tuple[str, str], tuple[Offer, ...]] = _by_seller(book.offers)
        self._sold = {product for product, _ in self._offers}
        self._known: dict[tuple[object, ...], Purchase] = {}
        self._asked: dict[tuple[str, str], PackMixes] = {}

    def product(self, id_: str) -> Product | None:
        return self._products.get(id_)

    def of_role(self, role: str) -> list[Product]:
        """By name, then by id."""
        return self._by_role[role]

    def sold(self, product: Product) -> bool:
        return product.id in self._sold

    def sells(self, supplier: Supplier, product: Product) -> bool:
        return (product.id, supplier.id) in self._offers

    def small_enough(self, product: Product, need: Need) -> bool:
        """Whether somebody serves the need with it."""
        return any(self.serves(supplier, product, need) for supplier in self.suppliers)

    def serves(self, supplier: Supplier, product: Product, need: Need) -> bool:
        """Whether he sells it, in a pack that each part of the need holds that must not be exceeded."""
        sold = self._offers.get((product.id, supplier.id), ())
        return any(not need.limits or offer.pack_size <= min(need.limits) for offer in sold)

    def purchase(self, product: Product, supplier: Supplier, needs: Sequence[Need]) -> Purchase:
        """All that the needs ask for, in the cheapest packs of one supplier; he must sell the product."""
        lengths = lengths_of(needs)
        quantity = sum((need.quantity for need in needs), ZERO)
        limits = tuple(limit for need in needs for limit in need.limits)
        key = product.id, supplier.id, quantity, lengths, limits
        if key not in self._known:
            self._known[key] = self._reckoned(product, supplier, quantity, lengths, limits)
        return self._known[key]

    def _reckoned(
        self,
        product: Product,
        supplier: Supplier,
        quantity: Decimal,
        lengths: CutLengths | None,
        limits: tuple[Decimal, ...],
    ) -> Purchase:
        offers = self._offers[product.id, supplier.id]
        freight = freight_of(product, supplier)
        extras = Extras(freight, supplier.split_pack_surcharge)
        if limits:
            mix, cutting = set_mix(limits, offers, extras), None
        elif lengths is None:
            mix, cutting = self._mixes(product, supplier, extras).of(quantity), None
        else:
            paid = in_minor(supplier.split_pack_surcharge, self._rounding)
            surcharge = Decimal(paid).scaleb(-self._rounding.minor)
            mix, cutting = _cut(lengths, offers, freight, surcharge)
        goods, cost = self._paid(offers, mix, extras)
        gap = 0 if cutting is None else ceil(cutting.gap.scaleb(self._rounding.minor))
        return Purchase(product, supplier, offers, mix, goods, cost, cutting, gap)

    def _mixes(self, product: Product, supplier: Supplier, extras: Extras) -> PackMixes:
        key = product.id, supplier.id
        if key not in self._asked:
            self._asked[key] = PackMixes(self._offers[key], extras, self._rounding)
        return self._asked[key]

    def _paid(self, offers: Sequence[Offer], mix: Mix, extras: Extras) -> tuple[int, int]:
        """Goods, and goods with freight and surcharges."""
        bought = [(offer, packs) for offer, packs in zip(offers, mix.counts, strict=True) if packs]
        goods = sum(in_minor(packs * pack_price(offer, packs), self._rounding) for offer, packs in bought)
        freight = sum(
            in_minor(packs * offer.pack_size * extras.freight, self._rounding) for offer, packs in bought
        )
        split = sum(in_minor(extras.surcharge, self._rounding) for offer, _ in bought if offer.split)
        return goods, goods + freight + split


def freight_of(product: Product, supplier: Supplier) -> Decimal:
    """The freight of one unit; none where the product's weight is not known."""
    return ZERO if product.weight_kg is None else product.weight_kg * supplier.freight_per_kg


def _by_seller(offers: Sequence[Offer]) -> dict[tuple[str, str], tuple[Offer, ...]]:
    """The offers of each product and supplier, the smallest packs first."""
    found: dict[tuple[str, str], list[Offer]] = defaultdict(list)
    for offer in offers:
        found[offer.product, offer.supplier].append(offer)
    return {
        key: tuple(sorted(some, key=lambda o: (o.pack_size, o.price_list))) for key, some in found.items()
    }


def _cut(
    lengths: CutLengths, offers: Sequence[Offer], freight: Decimal, surcharge: Decimal
) -> tuple[Mix, Cutting]:
    """Cut out of packs that cost their price and their freight, and the surcharge for each split size."""
    if not freight:
        return cut_with_split(lengths, offers, surcharge)
    carried = [_with_freight(offer, freight * offer.pack_size) for offer in offers]
    return cut_with_split(lengths, carried, surcharge)


def _with_freight(offer: Offer, freight: Decimal) -> Offer:
    breaks = (PriceBreak(b.min_packs, b.price + freight) for b in offer.breaks)
    return replace(offer, breaks=tuple(breaks))
