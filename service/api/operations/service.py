"""What operators and readers ask: is it alive, is it ready, what does it offer."""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import Any

import marshmallow as ma
from flask import Blueprint, Response, abort, current_app, render_template_string, send_from_directory

from service.api.framework import context
from service.api.framework.problems import KINDS, Problem
from service.api.framework.routes import Routes
from service.api.framework.schema import AnswerSchema
from service.api.measured import measured
from service.store.readiness import faults
from service.telemetry.metrics import CONTENT_TYPE, exposed

routes = Routes("service", __name__, description="Health of the service")
pages = Blueprint("pages", __name__)

UI_FILES = ("swagger-ui.css", "swagger-ui-bundle.js", "favicon-32x32.png")
UI_FOLDER = Path(str(resources.files("flask_swagger_ui"))) / "dist"
UI_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
PAGE = """<!doctype html>
<html lang="en">
<meta charset="utf-8">
<title>{{ title }}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="icon" href="/docs/favicon-32x32.png">
<link rel="stylesheet" href="/docs/swagger-ui.css">
<main id="operations"></main>
<script src="/docs/swagger-ui-bundle.js"></script>
<script src="/docs/start.js"></script>
</html>
"""
START = (
    'SwaggerUIBundle({url: "/openapi.json", dom_id: "#operations", deepLinking: true, validatorUrl: null});\n'
)


class HealthSchema(AnswerSchema):
    status = ma.fields.String(required=True)


@routes.operation("GET", "/healthz", "Is the process alive", scope=None, answer=HealthSchema)
def healthz() -> dict[str, str]:
    """Asks nothing of the database."""
    return {"status": "ok"}


@routes.operation(
    "GET", "/readyz", "Can requests be served", scope=None, answer=HealthSchema, problems=(503,)
)
def readyz() -> dict[str, str]:
    """The database answers and its migrations are the newest that this release knows."""
    found = faults(context.parts().engine)
    if found:
        raise Problem(503, "; ".join(found), headers={"Retry-After": "5"})
    return {"status": "ready"}


@pages.get("/metrics")
def all_metrics() -> Response:
    """For operators; a proxy keeps it from everybody else."""
    found = exposed(measured(context.parts().engine))
    return Response(found, content_type=CONTENT_TYPE)


@pages.get("/openapi.json")
def openapi_json() -> Response:
    """The published description of this service."""
    text: str = current_app.extensions["spec_json"]()
    return Response(text, content_type="application/json")


@pages.get("/docs")
@pages.get("/docs/")
def docs() -> Response:
    """The description as a page, from files that an installed package ships: no other host is asked."""
    page = render_template_string(PAGE, title=current_app.config["API_TITLE"])
    return Response(
        page, headers={"Content-Security-Policy": UI_POLICY}, content_type="text/html; charset=utf-8"
    )


@pages.get("/docs/start.js")
def docs_start() -> Response:
    return Response(START, content_type="text/javascript; charset=utf-8")


@pages.get("/docs/<string:name>")
def docs_file(name: str) -> Response:
    if name not in UI_FILES:
        abort(404)
    return send_from_directory(UI_FOLDER, name, max_age=86_400)


@pages.get("/problems")
def problem_kinds() -> dict[str, Any]:
    """What each problem type means."""
    return {f"/problems/{name}": meaning for name, meaning in KINDS.items()}


@pages.get("/problems/<string:name>")
def problem_kind(name: str) -> dict[str, Any]:
    """Where a problem's `type` leads."""
    if name not in KINDS:
        abort(404)
    return {"type": f"/problems/{name}", "title": name.replace("-", " ").capitalize(), "meaning": KINDS[name]}
