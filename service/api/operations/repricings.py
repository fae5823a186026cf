"""Repricings: ordered, watched, paused, resumed, cancelled; what they change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from functools import partial
from typing import Any
from uuid import UUID

from flask import Response

from service.api import examples
from service.api.framework.context import caller, now, session
from service.api.framework.pages import Key, Page, PageQuery, paged
from service.api.framework.replies import reply
from service.api.framework.routes import Routes
from service.api.schemas.repricing import (
    RepricingAnswer,
    RepricingChangesPage,
    RepricingChangesQuery,
    RepricingSchema,
    RepricingSelectSchema,
    RepricingsPage,
    repricing_answer,
)
from service.quoting import catalogue
from service.quoting.quotes import Actor
from service.quoting.repricing import steer
from service.store.models import Repricing

routes = Routes("repricings", __name__, url_prefix="/v1/repricings", description="Many quotes at new prices")
ONE = "/<uuid:repricing_id>"


@routes.operation(
    "POST",
    "",
    "Reprice quotes",
    scope="reprice",
    body=RepricingSchema,
    answer=RepricingAnswer,
    status=202,
    example=examples.REPRICING,
    stores=True,
    headers=("Location",),
)
def start_repricing(body: dict[str, Any]) -> Response:
    """Prices, price breaks, exchange rates, terms and taxes are those of the price date, quantities stay.

    A preview stores no quote. A revising run writes drafts beside what customers hold; accepted quotes are
    told of and never touched. The work is done by the workers, runs that revise one after the other.
    """
    run = steer.order(session(), order_of(body), Actor(now(), caller().id))
    return _told(run, 202, {"Location": f"/v1/repricings/{run.id}"})


@routes.operation(
    "GET", "", "List repricings", scope="reprice", query=PageQuery, answer=RepricingsPage, headers=("Link",)
)
def list_repricings(query: dict[str, Any]) -> Response:
    """Newest first."""
    page = paged(query, partial(catalogue.listing, session(), steer.REPRICINGS))
    return reply({"items": [_answer(run) for run in page.items], "next": page.next}, 200, page.headers)


@routes.operation("GET", ONE, "Read a repricing", scope="reprice", answer=RepricingAnswer, problems=(404,))
def get_repricing(repricing_id: UUID) -> Response:
    """How far it is, and once it is done what it came to."""
    return _told(steer.get(session(), repricing_id))


@routes.operation(
    "GET",
    f"{ONE}/changes",
    "List what a repricing changes",
    scope="reprice",
    query=RepricingChangesQuery,
    answer=RepricingChangesPage,
    headers=("Link",),
    problems=(404,),
)
def list_repricing_changes(repricing_id: UUID, query: dict[str, Any]) -> tuple[Page, Mapping[str, str]]:
    """Quote by quote, with the causes of each difference. While the run goes on, some are still missing."""

    def rows(limit: int, after: Key | None) -> Sequence[Any]:
        return steer.changes(session(), repricing_id, limit, after and after[1], query.get("outcome"))

    found = paged(query, rows)
    page = Page([_change(row) for row in found.items], found.next)
    return page, page.headers


@routes.operation(
    "POST",
    f"{ONE}/pause",
    "Pause a repricing",
    scope="reprice",
    answer=RepricingAnswer,
    problems=(404, 409),
    stores=True,
)
def pause_repricing(repricing_id: UUID) -> Response:
    """It stops after the parts that are being done. Paused already, it stays so."""
    return _told(steer.pause(session(), repricing_id))


@routes.operation(
    "POST",
    f"{ONE}/resume",
    "Resume a repricing",
    scope="reprice",
    answer=RepricingAnswer,
    problems=(404, 409),
    stores=True,
)
def resume_repricing(repricing_id: UUID) -> Response:
    """It goes on where it was paused, or where it failed. Running already, it runs on."""
    return _told(steer.resume(session(), repricing_id))


@routes.operation(
    "POST",
    f"{ONE}/cancel",
    "Cancel a repricing",
    scope="reprice",
    answer=RepricingAnswer,
    problems=(404, 409),
    stores=True,
)
def cancel_repricing(repricing_id: UUID) -> Response:
    """No further quote is repriced; what was written stays. Cancelled already, it stays so."""
    return _told(steer.cancel(session(), repricing_id))


def order_of(body: Mapping[str, Any]) -> steer.Order:
    """What a loaded body asks for; the selection is kept as JSON."""
    select = dict(body["select"])
    price_list = select.pop("price_list", None)
    limits = body["limits"]
    return steer.Order(
        mode=body["mode"],
        choice=body["choice"],
        selection=RepricingSelectSchema().dump(select),
        price_list_id=price_list,
        price_date=body["price_date"],
        threshold=body["threshold"],
        limit_percent=limits.get("percent"),
        limit_amount=limits.get("amount"),
        margin_floor_percent=body["margin_floor_percent"],
    )


def _change(row: Any) -> dict[str, Any]:
    names = (
        "quote_id", "outcome", "state", "revision", "new_revision", "old_cost", "old_net", "old_gross",
        "new_cost", "new_net", "new_gross", "note",
    )  # fmt: skip
    causes = [{**cause, "amount": Decimal(cause["amount"])} for cause in row.causes]
    return {**{name: getattr(row, name) for name in names}, "causes": causes}


def _told(run: Repricing, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    return reply(_answer(run), status, headers)


def _answer(run: Repricing) -> dict[str, Any]:
    return repricing_answer(run, steer.progress(run, now()))
