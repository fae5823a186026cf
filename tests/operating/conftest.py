"""The application and its demo, as for the tests of the API."""

from tests.api.conftest import app, demo, demo_tiles, operations, settings

__all__ = ["app", "demo", "demo_tiles", "operations", "settings"]
