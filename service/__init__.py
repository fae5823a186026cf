"""Take-off, labour hours and priced quotes for tile floors over uncoupling membranes."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask
    from sqlalchemy import Engine

    from service.settings import Settings

__all__ = ["create_app"]


def create_app(settings: Settings, engine: Engine | None = None) -> Flask:
    """The web application under these settings, on `engine` or on one made from their DATABASE_URL."""
    from service.api.app import build_app

    return build_app(settings, engine)
