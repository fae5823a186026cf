"""POST /v1/variants: one job in up to twenty variants, side by side; nothing is stored."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.api import examples
from service.api.framework.body import request_json
from service.api.framework.context import now, session
from service.api.framework.replies import reply
from service.api.framework.routes import Routes
from service.api.operations.jobs import changed_job
from service.api.schemas.variants import VariantsComparedSchema, VariantsRequestSchema, variants_answer
from service.pricing.model import Uplift
from service.quoting.basis import QuoteRequest
from service.quoting.variants import Asked, TermsChange, compare

routes = Routes("variants", __name__, url_prefix="/v1/variants", description="Variants side by side")


@routes.operation(
    "POST",
    "",
    "Compare variants",
    scope="quotes",
    body=VariantsRequestSchema,
    answer=VariantsComparedSchema,
    example=examples.VARIANTS,
    problems=(409,),
)
def compare_variants(body: dict[str, Any]) -> Response:
    """Totals of each variant and its differences to the first, by cause and by group of lines.

    Stores nothing. A variant whose floor is refused shows its findings beside the others; one that is bad
    input is a 422 with its pointer.
    """
    document = request_json()
    asked = [_asked(document, place, variant) for place, variant in enumerate(body["variants"])]
    more = {name: body[name] for name in ("terms_id", "price_date", "crew") if name in body}
    request = QuoteRequest(job=asked[0].job, body={}, **more)
    return reply(variants_answer(compare(session(), request, asked, now())))


def _asked(document: dict[str, Any], place: int, variant: Mapping[str, Any]) -> Asked:
    job = changed_job(document, "variants", place, variant)
    return Asked(variant["name"], job, variant.get("terms_id"), _terms(variant))


def _terms(variant: Mapping[str, Any]) -> TermsChange:
    said = dict(variant.get("terms", {}))
    uplifts = {group: Uplift(**uplift) for group, uplift in said.pop("uplifts", {}).items()}
    return TermsChange(**said, uplifts=uplifts)
