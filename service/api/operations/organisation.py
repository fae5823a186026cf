"""The organisation itself: its name, time zone, numbering and letterhead."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from service.api import examples
from service.api.framework.conditional import expected_versions, tagged
from service.api.framework.context import session
from service.api.framework.routes import Routes
from service.api.schemas.letterhead import OrganisationAnswer, OrganisationSchema
from service.quoting import office

routes = Routes(
    "organisation", __name__, url_prefix="/v1/organisation", description="The organisation and its letterhead"
)


@routes.operation(
    "GET", "", "Read the organisation", scope="admin", answer=OrganisationAnswer, headers=("ETag",)
)
def get_organisation() -> tuple[Any, Mapping[str, str]]:
    row = office.organisation(session())
    return row, tagged(row.version)


@routes.operation(
    "PUT",
    "",
    "Replace the organisation's particulars",
    scope="admin",
    body=OrganisationSchema,
    answer=OrganisationAnswer,
    example=examples.ORGANISATION,
    changes=True,
    headers=("ETag",),
)
def replace_organisation(body: dict[str, Any]) -> tuple[Any, Mapping[str, str]]:
    """Currency and standards stay as they were set up. The ETag is also that of its own trade values."""
    row = office.replace_organisation(session(), expected_versions(), body)
    return row, tagged(row.version)
