"""The record of changes to all that prices come from."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from service.api.framework.context import caller, session
from service.api.framework.pages import Page, paged
from service.api.framework.routes import Routes
from service.api.schemas.audit import AuditEntrySchema, AuditQuery
from service.api.schemas.catalogue import page_schema
from service.quoting import audit

routes = Routes("audit", __name__, url_prefix="/v1/audit", description="Who changed what, and when")
NAMED = {"key": "key_id"} | {name: name for name in ("subject", "subject_id", "since", "until")}
FOR_ADMINS = ("webhook",)


@routes.operation(
    "GET",
    "",
    "List changes",
    scope="prices",
    query=AuditQuery,
    answer=page_schema(AuditEntrySchema),
    headers=("Link",),
)
def list_changes(query: dict[str, Any]) -> tuple[Page, Mapping[str, str]]:
    """Newest first. Nobody can change or delete them. Webhooks, whose addresses may be secret, for admins."""
    hidden = () if "admin" in caller().scopes else FOR_ADMINS
    told = {name: query[said] for said, name in NAMED.items() if said in query}
    asked = audit.Asked(**told, without=hidden)
    page = paged(query, partial(audit.entries, session(), asked))
    return page, page.headers
