"""Which quotes a run is about."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from service.store.life import OPEN_STATES

STATES = (*OPEN_STATES, "accepted")


@dataclass(frozen=True, slots=True)
class Selection:
    """None asks nothing. Times are from (with) and until (without); days count both ends in.

    `price_list`: quotes that hold a product of this list from its supplier.
    """

    states: tuple[str, ...] = STATES
    created_from: datetime | None = None
    created_before: datetime | None = None
    valid_from: date | None = None
    valid_to: date | None = None
    customers: tuple[UUID, ...] | None = None
    products: tuple[UUID, ...] | None = None
    price_list: UUID | None = None

    @property
    def parameters(self) -> dict[str, Any]:
        """By the names of SELECTED."""
        listed = {
            "states": list(self.states),
            "customers": _list(self.customers),
            "products": _list(self.products),
        }
        return {**asdict(self), **listed}


def _list(ids: tuple[UUID, ...] | None) -> list[UUID] | None:
    return None if ids is None else list(ids)


SELECTED = """
    q.org_id = :org_id AND q.created_at <= :began_at AND q.state = ANY(CAST(:states AS text[]))
    AND (CAST(:created_from AS timestamptz) IS NULL OR q.created_at >= :created_from)
    AND (CAST(:created_before AS timestamptz) IS NULL OR q.created_at < :created_before)
    AND (CAST(:customers AS uuid[]) IS NULL OR q.customer_id = ANY(CAST(:customers AS uuid[])))
    AND (CAST(:valid_from AS date) IS NULL OR q.valid_until >= :valid_from)
    AND (CAST(:valid_to AS date) IS NULL OR q.valid_until <= :valid_to)
"""
"""A quote `q` that is asked for; what it holds is asked by HOLDING."""

HOLDING = """
    AND (CAST(:products AS uuid[]) IS NULL OR q.id IN (
        SELECT quote_id FROM quote_lines WHERE org_id = :org_id AND product_id = ANY(CAST(:products AS uuid[]))
    ))
    AND (CAST(:price_list AS uuid) IS NULL OR q.id IN (
        SELECT l.quote_id FROM quote_lines AS l WHERE l.org_id = :org_id AND l.product_id IN (
            SELECT product_id FROM price_items WHERE org_id = :org_id AND price_list_id = :price_list
        ) AND l.supplier_id = (SELECT supplier_id FROM price_lists WHERE org_id = :org_id AND id = :price_list)
    ))
"""
"""Found by the index on products, in any revision."""

HOLDS = """
    AND (CAST(:products AS uuid[]) IS NULL OR EXISTS (
        SELECT FROM quote_lines AS l WHERE l.org_id = :org_id AND l.quote_id = q.id AND l.revision = b.base
            AND l.product_id = ANY(CAST(:products AS uuid[]))
    ))
    AND (CAST(:price_list AS uuid) IS NULL OR EXISTS (
        SELECT FROM quote_lines AS l
        JOIN price_lists AS h ON h.org_id = :org_id AND h.id = :price_list AND h.supplier_id = l.supplier_id
        JOIN price_items AS i ON i.org_id = :org_id AND i.price_list_id = h.id AND i.product_id = l.product_id
        WHERE l.org_id = :org_id AND l.quote_id = q.id AND l.revision = b.base
    ))
"""
"""The same of the one revision `b.base`, for a quote at hand."""

CHOSEN = "NOT l.allowance AND l.role = ANY(CAST(:seen AS text[]))"
"""A line whose product the office chose: only that product's own prices bear on it."""

COULD_HOLD = f"""
    AND ((CAST(:products AS uuid[]) IS NULL AND CAST(:price_list AS uuid) IS NULL) OR EXISTS (
        SELECT FROM quote_lines AS l
        WHERE l.org_id = :org_id AND l.quote_id = q.id AND l.revision = b.base AND (
            l.product_id = ANY(CAST(:products AS uuid[]))
            OR l.product_id IN (
                SELECT product_id FROM price_items WHERE org_id = :org_id AND price_list_id = :price_list
            )
            OR l.packs IS NOT NULL AND NOT ({CHOSEN}) AND EXISTS (
                SELECT FROM repricing_roles AS o
                WHERE o.org_id = :org_id AND o.repricing_id = :run AND o.role = l.role AND o.selected
            )
        )
    ))
"""
"""Of the revision `b.base`: whether one of the products could fill a role of it."""

COULD_CHANGE = f"""EXISTS (
    SELECT FROM quote_lines AS l
    WHERE l.org_id = q.org_id AND l.quote_id = q.id AND l.revision = b.base AND l.packs IS NOT NULL AND CASE
        WHEN {CHOSEN} THEN EXISTS (
            SELECT FROM repricing_suppliers AS s JOIN repricing_prices AS p
                ON p.org_id = s.org_id AND p.repricing_id = s.repricing_id AND p.supplier_id = s.supplier_id
            WHERE s.org_id = :org_id AND s.repricing_id = :run AND p.product_id = l.product_id
                AND (r.created_at < p.changed_at OR r.price_date < p.begins)
        )
        ELSE EXISTS (
            SELECT FROM repricing_roles AS o
            WHERE o.org_id = :org_id AND o.repricing_id = :run AND o.role = l.role
                AND (r.created_at < o.changed_at OR r.price_date < o.begins)
        ) END
)"""
"""Whether a price changed, since the revision `r` was priced, of what could fill a role of it."""
