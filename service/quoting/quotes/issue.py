"""Issuing a revision: from then on the customer holds an offer, which stays as it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from sqlalchemy.orm import Session

from service.quoting.catalogue import UnknownReference, Versions
from service.quoting.errors import Conflict, QuotingError
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.step import ensure, locked, told, write
from service.quoting.quotes.stored import StoredQuote, read
from service.store.models import Quote
from service.takeoff.answer import Takeoff


@dataclass(frozen=True, slots=True)
class IssueOrder:
    """Which revision (None: the newest), and the assumptions accepted, as the take-off words them."""

    revision: int | None = None
    accept_assumptions: Sequence[str] = ()


class NotAccepted(QuotingError):
    """Some assumptions must be accepted before the revision is issued; `wanted` says which."""

    def __init__(self, wanted: Sequence[str]) -> None:
        super().__init__("assumptions of this revision must be accepted first")
        self.wanted = tuple(wanted)


def issue(
    session: Session, quote_id: UUID, expected: Versions, order: IssueOrder, actor: Actor
) -> StoredQuote:
    """Put a draft on offer from today, in the place of the offer before it.

    Conflict for what is no draft any more and for a floor that must not be built so; NotAccepted where
    assumptions are still to be accepted.
    """
    quote = locked(session, quote_id, expected)
    number = order.revision or quote.current_revision
    ensure(session, quote, number, "issued")
    if quote.state == "accepted":
        raise Conflict("another revision is accepted; what changes now is a variation of the quote")
    draft = read(session, quote, number)
    _buildable(draft)
    takeoffs = [draft.takeoff, *(option.takeoff for option in draft.options if option.priced)]
    scope = _accepted(takeoffs, order.accept_assumptions)
    if quote.state == "issued" and quote.offered_revision is not None:
        write(session, quote, quote.offered_revision, "superseded", actor)
    last_day = actor.today(session) + timedelta(days=valid_days(draft))
    write(session, quote, number, "issued", actor, valid_until=last_day, scope=scope)
    return told(session, quote, draft)


def valid_days(draft: StoredQuote) -> int:
    """For how many days from its issue an offer holds: as asked for, else by its terms."""
    return int(draft.body.get("valid_days") or draft.basis["terms"]["valid_days"])


def last_day_of(quote: Quote) -> date:
    """Until when the offer may be accepted, that day included."""
    if quote.valid_until is None:
        raise Conflict("nothing of this quote is on offer")
    return quote.valid_until


def _buildable(draft: StoredQuote) -> None:
    if draft.priced is None:
        raise Conflict("a finding refuses this floor, so it has no price and cannot be issued")


def _accepted(takeoffs: Sequence[Takeoff], accepted: Sequence[str]) -> dict[str, list[str]] | None:
    """What the offer and its options that can be built ask for, each once."""
    wanted = tuple(dict.fromkeys(text for takeoff in takeoffs for text in takeoff.to_accept))
    for place, said in enumerate(accepted):
        if said not in wanted:
            raise UnknownReference(f"/accept_assumptions/{place}", "Not asked for by this revision.")
    if missing := [text for text in wanted if text not in accepted]:
        raise NotAccepted(missing)
    return {"accepted_assumptions": list(wanted)} if wanted else None
