"""Reading and writing rows of one organisation: the few forms that all resources share.

Every function works on the organisation that the session is bound to. The rows' `version` is compared in the
UPDATE itself, so that of two writers who read the same version one is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any, TypeVar
from uuid import UUID

from sqlalchemy import ColumnElement, Select, delete, func, select, tuple_, update
from sqlalchemy.dialects.postgresql import distinct_on
from sqlalchemy.orm import Session

from service.store.models import Base
from service.store.models.base import Identified
from service.store.session import org_of

Row = TypeVar("Row", bound=Base)
Cursor = tuple[datetime, UUID]
"""Where a page ended: created_at and id of its last row."""


def add(session: Session, model: type[Row], **values: Any) -> Row:
    """Insert one row; IntegrityError where it clashes with another."""
    row = model(org_id=org_of(session), **values)
    session.add(row)
    session.flush()
    return row


def add_all(session: Session, model: type[Base], rows: Iterable[Mapping[str, Any]]) -> None:
    """Insert many rows in one go."""
    org_id = org_of(session)
    session.add_all([model(org_id=org_id, **row) for row in rows])
    session.flush()


def find(session: Session, model: type[Row], row_id: UUID) -> Row | None:
    """The row with this id, or None where the organisation has none."""
    return session.get(model, (org_of(session), row_id))


def lock(session: Session, model: type[Row], *ids: Any, key_share: bool = False) -> Row | None:
    """The row as it is now, nobody else's to change until the transaction ends; with `key_share` others may
    point at it meanwhile. None where the organisation has none."""
    key = (org_of(session), *ids)
    how: Any = {"key_share": True} if key_share else True
    return session.get(model, key, with_for_update=how, populate_existing=True)


def by_ids(session: Session, model: type[Row], ids: Iterable[UUID]) -> dict[UUID, Row]:
    """The rows that exist among these ids, by id."""
    table: Any = model
    rows = session.scalars(_own(session, model).where(table.id.in_(list(ids))))
    return {row.id: row for row in rows}


def page(
    session: Session, model: type[Row], limit: int, after: Cursor | None = None, *where: ColumnElement[bool]
) -> Sequence[Row]:
    """Up to `limit` rows, newest first, that come after the cursor."""
    table: Any = model
    query = _own(session, model).where(*where)
    if after is not None:
        query = query.where(tuple_(table.created_at, table.id) < after)
    return session.scalars(query.order_by(table.created_at.desc(), table.id.desc()).limit(limit)).all()


def change(
    session: Session, model: type[Row], row_id: UUID, version: int | None, **changes: Any
) -> Row | None:
    """Change a row that is still at `version` (None: at any); None where it is not, or is not there."""
    table: Any = model
    statement = (
        update(model)
        .where(*_at(session, model, row_id, version))
        .values(**changes, version=table.version + 1)
        .returning(model)
        .execution_options(populate_existing=True)
    )
    return session.scalars(statement).one_or_none()


def archive(session: Session, model: type[Row], row_id: UUID, version: int | None) -> Row | None:
    """Take a row out of use; old quotes keep pointing at it."""
    return change(session, model, row_id, version, archived_at=func.now())


def remove(session: Session, model: type[Base], row_id: UUID, version: int | None) -> bool:
    """Delete a row that is still at `version`; IntegrityError where others point at it."""
    table: Any = model
    statement = delete(model).where(*_at(session, model, row_id, version)).returning(table.id)
    return session.scalar(statement) is not None


def in_force(session: Session, model: type[Row], on: date, *of: Any) -> Select[Any]:
    """The rows that hold on a day, one of each `of`: the latest from-day, of several rows the newest."""
    table: Any = model
    newest = (table.valid_from.desc(), table.created_at.desc(), table.id.desc())
    begun = _own(session, model).where(table.valid_from <= on)
    return begun.ext(distinct_on(*of)).order_by(*of, *newest)


def cursor_of(row: Identified) -> Cursor:
    return row.created_at, row.id


def _own(session: Session, model: type[Row]) -> Select[Any]:
    table: Any = model
    return select(model).where(table.org_id == org_of(session))


def _at(session: Session, model: type[Base], row_id: UUID, version: int | None) -> list[ColumnElement[bool]]:
    table: Any = model
    where = [table.org_id == org_of(session), table.id == row_id]
    return where if version is None else [*where, table.version == version]
