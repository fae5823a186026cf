"""What an office keeps: suppliers, products, price lists, labour tables, terms and customers.

A change names the versions that it may start from; `Stale` tells that the thing has moved on since.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Generic, TypeVar
from uuid import UUID

from sqlalchemy import ColumnElement
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from service.quoting.errors import Conflict, NotFound, QuotingError
from service.store import rows
from service.store.models import Base, Customer, ProductRow, Supplier

Versions = frozenset[int] | None
"""The versions that a change may start from; None for any."""
Row = TypeVar("Row", bound=Base)
MEANINGS: Mapping[str, str] = {
    "prices_stay_in_their_currency": "activated prices are in its currency; keep it, or add a supplier",
    "prices_stay_for_their_role": "prices or quotes rest on its role and unit; keep them, or add a product",
}
"""What a trigger of the database keeps as it was, by its constraint."""
_OVERTAKEN = "somebody else changed it at the same time"


class Stale(QuotingError):
    """The thing is not at a version that the change may start from."""


class UnknownReference(QuotingError):
    """A row named in what is to be stored does not exist; `field` says where it was named."""

    def __init__(self, field: str, detail: str = "No such thing in this organisation.") -> None:
        super().__init__(detail)
        self.field = field


@dataclass(frozen=True, slots=True)
class Kind(Generic[Row]):
    """A kind of thing in the catalogue: its word and its rows."""

    word: str
    model: type[Row]


SUPPLIERS = Kind("supplier", Supplier)
PRODUCTS = Kind("product", ProductRow)
CUSTOMERS = Kind("customer", Customer)


def add(session: Session, kind: Kind[Row], values: Mapping[str, Any]) -> Row:
    with clashes(kind.word):
        return rows.add(session, kind.model, **values)


def get(session: Session, kind: Kind[Row], row_id: UUID) -> Row:
    row = rows.find(session, kind.model, row_id)
    if row is None:
        raise NotFound(kind.word)
    return row


def listing(
    session: Session,
    kind: Kind[Row],
    limit: int,
    after: rows.Cursor | None,
    where: Iterable[ColumnElement[bool]] = (),
) -> Sequence[Row]:
    """Newest first, after the cursor."""
    return rows.page(session, kind.model, limit, after, *where)


def unarchived(kind: Kind[Any], archived_too: bool = False) -> tuple[ColumnElement[bool], ...]:
    """What leaves archived things out of a listing."""
    return () if archived_too else (kind.model.archived_at.is_(None),)


def matching(kind: Kind[Any], **columns: Any) -> tuple[ColumnElement[bool], ...]:
    """What keeps a listing to the rows with these values; None asks nothing."""
    return tuple(getattr(kind.model, name) == value for name, value in columns.items() if value is not None)


def replace(
    session: Session, kind: Kind[Row], row_id: UUID, expected: Versions, values: Mapping[str, Any]
) -> Row:
    """The thing with `values` for all that it holds, one version on."""
    version = at_version(session, kind, row_id, expected)
    with clashes(kind.word):
        return fresh(rows.change(session, kind.model, row_id, version, **values))


def archive(session: Session, kind: Kind[Any], row_id: UUID, expected: Versions) -> None:
    """Take it out of use; quotes keep pointing at it."""
    version = at_version(session, kind, row_id, expected)
    fresh(rows.archive(session, kind.model, row_id, version))


def remove(session: Session, kind: Kind[Any], row_id: UUID, expected: Versions) -> None:
    """Delete it; Conflict where something stored points at it."""
    version = at_version(session, kind, row_id, expected)
    with clashes(kind.word):
        if not rows.remove(session, kind.model, row_id, version):
            raise Stale(_OVERTAKEN)


def at_version(session: Session, kind: Kind[Any], row_id: UUID, expected: Versions) -> int:
    """The version that the thing is at, where a change may start from it."""
    version: int = get(session, kind, row_id).version
    if expected is not None and version not in expected:
        raise Stale(f"the {kind.word} is at another version")
    return version


def fresh(changed: Row | None) -> Row:
    """What a change gave back; nothing means that another writer was first."""
    if changed is None:
        raise Stale(_OVERTAKEN)
    return changed


@contextmanager
def clashes(word: str) -> Iterator[None]:
    """Tell the database's refusals as Conflict."""
    try:
        yield
    except IntegrityError as error:
        raise _kept(error) or Conflict(_clash(word, error)) from error


def _kept(error: IntegrityError) -> Conflict | None:
    """The refusal, with its field, where a trigger keeps what activated prices mean."""
    told = getattr(error.orig, "diag", None)
    if told is None or told.constraint_name not in MEANINGS:
        return None
    return Conflict(MEANINGS[told.constraint_name], f"/{told.column_name}")


def _clash(word: str, error: IntegrityError) -> str:
    state = getattr(error.orig, "sqlstate", "")
    if state == "23505":
        return f"another {word} has the same name or place"
    if state == "23503":
        return f"the {word} is in use, or names something that does not exist"
    return f"the {word}'s state forbids this"
