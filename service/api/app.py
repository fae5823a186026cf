"""The application put together: settings, engine, operations, problems."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import Flask
from sqlalchemy import Engine

from service.api.framework import context, handlers, limits, web
from service.api.framework.admission import Admission
from service.api.framework.api import ProblemApi
from service.api.framework.proxies import BehindProxies
from service.api.operations import (
    audit,
    ballparks,
    calibrations,
    catalogue,
    customers,
    documents,
    exchange_rates,
    explanation,
    keys,
    labour_rates,
    lists,
    organisation,
    price_book,
    price_lists,
    quote_life,
    quotes,
    repricings,
    service,
    takeoffs,
    taxes,
    terms,
    trade_values,
    variants,
    webhooks,
)
from service.api.pages import pages as form_pages
from service.api.spec import describe, text_of
from service.quoting.ballparks.desk import Desk
from service.settings import Settings
from service.store.engine import make_engine
from service.store.watch import watch
from service.telemetry import logs, tracing

View = Callable[..., Any]
ROUTES = (
    takeoffs.takeoffs,
    quotes.quotes,
    documents.routes,
    customers.routes,
    lists.routes,
    explanation.routes,
    quote_life.routes,
    variants.routes,
    *(catalogue.routes_of(shelf) for shelf in catalogue.SHELVES),
    price_lists.routes,
    price_book.book,
    price_book.letters,
    labour_rates.routes,
    calibrations.routes,
    terms.routes,
    exchange_rates.routes,
    taxes.routes,
    repricings.routes,
    audit.routes,
    keys.routes,
    webhooks.routes,
    organisation.routes,
    trade_values.routes,
    ballparks.routes,
    service.routes,
)


class Application(Flask):
    """No view of ours is a coroutine, so that none need be looked at, some fifteen times a request."""

    def ensure_sync(self, func: View) -> View:
        return func


def build_app(settings: Settings, engine: Engine | None = None) -> Flask:
    """The web application under these settings, on `engine` or on one made from their DATABASE_URL."""
    app = equip(*bare_app(), settings, engine)
    if settings.trusted_proxies:
        proxies = settings.trusted_proxies, settings.proxy_networks
        app.wsgi_app = BehindProxies(app.wsgi_app, *proxies)  # type: ignore[method-assign]
    tracing.watch_app(app)
    app.wsgi_app = Admission(app.wsgi_app, settings)  # type: ignore[method-assign]
    return app


def equip(app: Flask, api: ProblemApi, settings: Settings, engine: Engine | None = None) -> Flask:
    """The operations with what they work with; whatever an earlier call of it kept is gone."""
    logs.set_up(settings.log_level)
    app.config["MAX_CONTENT_LENGTH"] = settings.max_body_bytes
    parts = context.Parts(settings, engine or _engine(settings))
    context.install(app, parts)
    app.extensions["ballpark_desk"] = Desk(parts.engine, settings.key_pepper)
    limits.install(app, settings)
    app.extensions["spec_json"] = lambda: text_of(api)
    return app


def bare_app() -> tuple[Flask, ProblemApi]:
    """The operations without settings or database: enough to describe them."""
    app = Application("service.api", static_folder=None)
    app.json.sort_keys = False  # type: ignore[attr-defined] # of the default provider
    api = describe(app)
    for routes in ROUTES:
        api.register_blueprint(routes)
    app.register_blueprint(service.pages)
    app.register_blueprint(form_pages)
    handlers.register(app)
    web.register(app)
    return app, api


def spec_json() -> str:
    """The published description, without settings, database or a running service."""
    return text_of(bare_app()[1])


def _engine(settings: Settings) -> Engine:
    if settings.database_url is None:
        raise ValueError("without DATABASE_URL start the embedded PostgreSQL first and give its engine")
    engine = make_engine(
        settings.database_url,
        pool_size=settings.pool_size,
        statement_timeout_s=settings.statement_timeout_s,
        pool_timeout_s=settings.pool_timeout_s,
    )
    watch(engine, settings.slow_statement_ms)
    return engine
