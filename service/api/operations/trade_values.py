"""The trade's dated values with their sources, and an organisation's own in their place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from flask import Response

from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import session
from service.api.framework.replies import nothing
from service.api.framework.routes import Routes
from service.api.operations.jobs import today
from service.api.schemas.office import OwnValueSchema, TradeValueSchema, TradeValuesQuery, TradeValuesSchema
from service.quoting import office
from service.trade.values import parse_edition

routes = Routes(
    "trade-values", __name__, url_prefix="/v1/trade-values", description="Limits, rates and their sources"
)
ONE = "/<string(maxlength=120):key>"


@routes.operation(
    "GET",
    "",
    "List trade values",
    scope="quotes",
    query=TradeValuesQuery,
    answer=TradeValuesSchema,
)
def list_trade_values(query: dict[str, Any]) -> dict[str, Any]:
    """All values in force on a day, or in an edition, by key."""
    standards, day = query.get("standards"), query.get("on", today())
    if "edition" in query:
        standards, day = parse_edition(query["edition"])
    values = office.trade_values(session(), standards, day)
    items = [values[key] for key in sorted(values.by_key)]
    return {"standards": values.standards, "edition": values.edition, "items": items}


@routes.operation(
    "GET",
    ONE,
    "Read a trade value",
    scope="quotes",
    answer=TradeValueSchema,
    headers=("ETag",),
    problems=(404,),
)
def get_trade_value(key: str) -> tuple[Any, Mapping[str, str]]:
    """The value in force today; the ETag is that of the organisation's own values."""
    return _told(key)


@routes.operation(
    "PUT",
    ONE,
    "Set a value of your own",
    scope="admin",
    body=OwnValueSchema,
    answer=TradeValueSchema,
    example={"value": 12},
    changes=True,
    headers=("ETag",),
    problems=(409,),
)
def set_own_trade_value(key: str, body: dict[str, Any]) -> tuple[Any, Mapping[str, str]]:
    """Findings and quotes say that it is your own. The limits of published standards cannot be set."""
    office.set_own_value(session(), key, body["value"], expected_versions(), today())
    return _told(key)


@routes.operation("DELETE", ONE, "Go back to the published value", scope="admin", status=204, changes=True)
def drop_own_trade_value(key: str) -> Response:
    office.drop_own_value(session(), key, expected_versions())
    return nothing()


def _told(key: str) -> tuple[Any, Mapping[str, str]]:
    row, value = office.trade_value(session(), key, today())
    return asdict(value), tagged(row.version)
