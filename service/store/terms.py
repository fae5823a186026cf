"""Commercial terms, as the plain data that pricing works with."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from cattrs import Converter
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.pricing.model import Terms
from service.store import rows
from service.store.models import TermsRow
from service.store.session import org_of

_plain = Converter(forbid_extra_keys=True)
_plain.register_unstructure_hook(Decimal, str)
_plain.register_structure_hook(Decimal, lambda value, _: Decimal(str(value)))


def terms_body(terms: Terms) -> dict[str, Any]:
    """What the column `body` keeps of terms: all but id and name, decimals as strings."""
    body: dict[str, Any] = _plain.unstructure(terms)
    return {name: value for name, value in body.items() if name not in {"id", "name"}}


def terms_of(row: TermsRow) -> Terms:
    """Stored terms as pricing sees them; an error names a field that terms do not have."""
    return _plain.structure({"id": str(row.id), "name": row.name, **row.body}, Terms)


def default_terms(session: Session) -> Terms | None:
    """The organisation's default terms, or None where it has not set any."""
    query = select(TermsRow).where(TermsRow.org_id == org_of(session), TermsRow.is_default)
    row = session.scalars(query).one_or_none()
    return None if row is None else terms_of(row)


def terms_by_id(session: Session, terms_id: UUID) -> Terms | None:
    row = rows.find(session, TermsRow, terms_id)
    return None if row is None else terms_of(row)
