"""The price book, indexed: which product is sold by whom, and what a quantity of it costs in whole packs."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal

from service.cutting.runs import CutLengths
from service.pricing.cut_to_length import cut_mix
from service.pricing.model import Cutting, Offer, PriceBook, Product, Supplier
from service.pricing.packs import Mix, pack_mix


@dataclass(frozen=True, slots=True)
class Purchase:
    """A quantity of one product from one supplier."""

    product: Product
    supplier: Supplier
    offers: tuple[Offer, ...]
    mix: Mix
    cutting: Cutting | None = None

    @property
    def rank(self) -> tuple[Decimal, str, str, str, str]:
        """Cheapest first; ties by name, then by id, of product and supplier."""
        product, supplier = self.product, self.supplier
        return self.mix.cost, product.name, product.id, supplier.name, supplier.id


class Market:
    """A price book ready to be asked."""

    def __init__(self, book: PriceBook) -> None:
        self._products = {product.id: product for product in book.products}
        self._suppliers = {supplier.id: supplier for supplier in book.suppliers}
        self._offers: dict[str, dict[str, list[Offer]]] = defaultdict(lambda: defaultdict(list))
        self._cut: dict[tuple[CutLengths, tuple[Offer, ...]], tuple[Mix, Cutting]] = {}
        for offer in book.offers:
            self._offers[offer.product][offer.supplier].append(offer)

    def product(self, id_: str) -> Product | None:
        return self._products.get(id_)

    def of_role(self, role: str) -> list[Product]:
        return [product for product in self._products.values() if product.role == role]

    def sold(self, product: Product) -> bool:
        return product.id in self._offers

    def cheapest(self, product: Product, quantity: Decimal, lengths: CutLengths | None = None) -> Purchase:
        """The quantity, or the lengths to cut, from the supplier who sells them cheapest, before delivery.

        The product must be sold.
        """
        sellers = self._offers[product.id].items()
        purchases = (
            self._purchase(product, self._suppliers[supplier], tuple(offers), quantity, lengths)
            for supplier, offers in sellers
        )
        return min(purchases, key=lambda purchase: purchase.rank)

    def _purchase(
        self,
        product: Product,
        supplier: Supplier,
        offers: tuple[Offer, ...],
        quantity: Decimal,
        lengths: CutLengths | None,
    ) -> Purchase:
        if lengths is None:
            return Purchase(product, supplier, offers, pack_mix(quantity, offers))
        if (lengths, offers) not in self._cut:
            self._cut[lengths, offers] = cut_mix(lengths, offers)
        return Purchase(product, supplier, offers, *self._cut[lengths, offers])
