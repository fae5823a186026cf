"""Work that changes after acceptance: a quote of its own under the accepted one."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.basis import QuoteRequest
from service.quoting.errors import Conflict
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.make import as_stored, customer_of, for_customer, reckon, snapshot_of
from service.quoting.quotes.step import locked, unlocked
from service.quoting.quotes.stored import StoredQuote
from service.store import quotes as store
from service.store.models import Quote


def vary(session: Session, parent_id: UUID, request: QuoteRequest, actor: Actor) -> StoredQuote:
    """A draft numbered after its parent, for the parent's customer unless another is named.

    Conflict unless the parent is accepted: what is not accepted yet is revised.
    """
    accepted = unlocked(session, parent_id, None)
    _variable(accepted)
    known = accepted.customer_id
    request = for_customer(request, known)
    reckoned = reckon(session, request, actor.now)
    snapshot = snapshot_of(reckoned, customer_of(session, request, known))
    parent = locked(session, parent_id, None)  # held to the end, so that variations are counted one by one
    written = store.add_quote(session, snapshot, actor.says(), parent.id)
    store.give_variation_number(session, written.quote, parent)
    return as_stored(session, written, reckoned)


def _variable(parent: Quote) -> None:
    if parent.state != "accepted":
        raise Conflict(f"the quote is {parent.state}, and only an accepted one is varied; revise it instead")
    if parent.parent_id is not None:
        raise Conflict("a variation is not varied itself; add another to the quote that it varies")
