"""Lists by cursor: the next page begins behind the last row's key, so that insertions shift nothing."""

from __future__ import annotations

import base64
import binascii
import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol
from urllib.parse import urlencode
from uuid import UUID

import marshmallow as ma
from flask import request

from service.api.framework.problems import Fault, invalid

MAX_LIMIT = 200
PAGING = ("limit", "cursor")
Key = tuple[datetime, UUID]


class Keyed(Protocol):
    """A row of a list, ordered by when it was made and its id."""

    @property
    def id(self) -> UUID: ...
    @property
    def created_at(self) -> datetime: ...


@dataclass(frozen=True, slots=True)
class Page:
    """What a list operation answers."""

    items: Sequence[Any]
    next: str | None

    @property
    def headers(self) -> dict[str, str]:
        """`Link: <...>; rel="next"` (RFC 8288) where there is more."""
        if self.next is None:
            return {}
        query = {**request.args.to_dict(), "cursor": self.next}
        return {"Link": f'<{request.path}?{urlencode(query)}>; rel="next"'}


def encode(key: Key) -> str:
    """The opaque cursor behind the row with this key, good for the list that is being asked."""
    told = json.dumps([key[0].isoformat(), str(key[1]), _asked()])
    return base64.urlsafe_b64encode(told.encode()).decode().rstrip("=")


def decode(cursor: str) -> Key:
    """The key in a cursor that `encode` made for this list and these filters; any other is refused."""
    try:
        made, row_id, asked = json.loads(base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
        key = datetime.fromisoformat(made), UUID(row_id)
    except (ValueError, TypeError, AttributeError, binascii.Error):
        raise invalid(Fault("Not a cursor of this service.", parameter="cursor")) from None
    if key[0].tzinfo is None:
        raise invalid(Fault("Not a cursor of this service.", parameter="cursor"))
    if asked != _asked():
        detail = "This cursor is another list's, or came with other filters; begin again without it."
        raise invalid(Fault(detail, parameter="cursor"))
    return key


def _asked() -> str:
    """What the current request lists: its path and filters, in short."""
    filters = sorted(pair for pair in request.args.items(multi=True) if pair[0] not in PAGING)
    return hashlib.sha256(json.dumps([request.path, filters]).encode()).hexdigest()[:16]


def page_of(rows: Sequence[Keyed], limit: int) -> Page:
    """A page of `rows`, of which one more than `limit` were read to see whether there is more."""
    kept = rows[:limit]
    more = encode((kept[-1].created_at, kept[-1].id)) if len(rows) > limit else None
    return Page(kept, more)


def paged(query: Mapping[str, Any], rows: Callable[[int, Key | None], Sequence[Keyed]]) -> Page:
    """The page that `query` asks for, of what `rows` gives: so many behind that key."""
    after = decode(query["cursor"]) if query["cursor"] else None
    return page_of(rows(query["limit"] + 1, after), query["limit"])


class PageQuery(ma.Schema):
    """`limit` and `cursor` of every list."""

    limit = ma.fields.Integer(load_default=50, strict=False, validate=ma.validate.Range(1, MAX_LIMIT))
    cursor = ma.fields.String(load_default=None, validate=ma.validate.Length(max=200))
