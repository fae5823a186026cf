"""The main job once through: seed, post three rooms over HTTP, print the quote."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any
from uuid import UUID

from flask import Flask

from service import create_app
from service.demo.seed import ORGANISATION, product_ids, seed
from service.quoting.quotes import get_quote
from service.render.text import quote_text
from service.settings import Settings
from service.store.engine import make_engine
from service.store.migrate import migrate
from service.store.session import transaction


class DemoFault(RuntimeError):
    """The service refused the demo's own rooms; the message is its problem."""


def run_demo(settings: Settings) -> str:
    """The printed quote of the invented job, made and stored through the HTTP application."""
    migrate(settings)
    key = seed(settings)
    engine = make_engine(settings.database_url or "")
    try:
        with transaction(engine, ORGANISATION) as session:
            job = demo_job(product_ids(session))
        answer = _post(create_app(settings, engine), key, job)
        with transaction(engine, ORGANISATION) as session:
            quote = get_quote(session, UUID(answer["id"]))
    finally:
        engine.dispose()
    if quote.priced is None:
        raise DemoFault("the demo's floor was refused")
    title = f"Quote {quote.number} of {quote.price_date}, valid until {quote.valid_until} (invented example)"
    return quote_text(title, quote.takeoff, quote.priced)


def demo_job(ids: dict[str, str]) -> dict[str, Any]:
    """The three rooms, with the products' codes replaced by their ids."""
    job: dict[str, Any] = json.loads((resources.files("service.demo") / "rooms.json").read_text("utf-8"))
    for room in job["rooms"]:
        room["tile"] = {"product": ids[room["tile"]["product"]]}
    return job


def _post(app: Flask, key: str, job: dict[str, Any]) -> dict[str, Any]:
    answer = app.test_client().post("/v1/quotes", json=job, headers={"Authorization": f"Bearer {key}"})
    if answer.status_code != 201:
        raise DemoFault(answer.get_data(as_text=True))
    body: dict[str, Any] = answer.get_json()
    return body
