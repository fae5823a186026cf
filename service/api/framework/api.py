"""The Api of flask-smorest with problem responses, our fields in the description, and stable schema names."""

from __future__ import annotations

import http
from typing import Any

import marshmallow as ma
from flask_smorest import Api
from flask_smorest.utils import prepare_response

from service.api.framework import problems
from service.api.framework.described import documented
from service.api.framework.schema import AnswerSchema

SECURITY = {
    "bearerKey": {"type": "http", "scheme": "bearer", "description": "An API key of the organisation."}
}


class FaultSchema(AnswerSchema):
    """One wrong thing: where in the body (RFC 6901) or in which query parameter, and what."""

    pointer = ma.fields.String(metadata={"description": "JSON pointer into the body (RFC 6901)"})
    parameter = ma.fields.String(metadata={"description": "name of the query parameter"})
    detail = ma.fields.String(required=True)


class ProblemSchema(AnswerSchema):
    """Problem details (RFC 9457)."""

    type = ma.fields.String(required=True, metadata={"format": "uri-reference"})
    title = ma.fields.String(required=True)
    status = ma.fields.Integer(required=True)
    detail = ma.fields.String(required=True)
    instance = ma.fields.String()
    request_id = ma.fields.String()
    errors = ma.fields.List(ma.fields.Nested(FaultSchema))


class ProblemApi(Api):  # type: ignore[misc] # the package ships no types
    """flask-smorest answering RFC 9457 problems."""

    ERROR_SCHEMA = ProblemSchema

    def init_app(self, app: Any, **options: Any) -> None:
        super().init_app(app, **options)
        self.ma_plugin.converter.add_attribute_function(documented)
        self.spec.components.security_scheme("bearerKey", SECURITY["bearerKey"])

    def _register_error_handlers(self) -> None:
        """Left to problems' own handlers, which see every exception."""

    def _register_pagination_header(self) -> None:
        """Lists page by cursors of their own."""

    def _register_responses(self) -> None:
        statuses = {status.name: status.phrase for status in http.HTTPStatus if status >= 400}
        for name, phrase in {**statuses, "DEFAULT_ERROR": "Any other problem"}.items():
            response = {"description": phrase, "schema": ProblemSchema}
            prepare_response(response, self.spec, problems.MEDIA_TYPE)
            self.spec.components.response(name, response, lazy=True)
