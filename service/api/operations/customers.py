"""What customers have besides the catalogue's operations: their data can be erased."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import session
from service.api.framework.routes import Routes
from service.api.schemas.office import CustomerAnswer
from service.quoting import customers as use_cases

routes = Routes(
    "customer_erasure", __name__, url_prefix="/v1/customers", description="Erasing customers' personal data"
)


@routes.operation(
    "POST",
    "/<uuid:customer_id>/erase",
    "Erase a customer's personal data",
    scope="admin",
    answer=CustomerAnswer,
    changes=True,
    stores=True,
    headers=("ETag",),
)
def erase_customer(customer_id: UUID) -> tuple[Any, Mapping[str, str]]:
    """Name, addresses, numbers and note are gone for good, also from answers kept for Idempotency-Keys.

    So is who accepted their quotes, under which reference, and why they were declined or withdrawn. Quotes
    stay with their figures, numbers and rooms, and their documents say that the data were erased. Names of
    rooms and of options with their notes are the office's own words and stay: keep people out of them.
    """
    row = use_cases.erase(session(), customer_id, expected_versions())
    return row, tagged(row.version)
