"""The table of what may follow: the same in the database as in the code, and no way around it."""

from __future__ import annotations

from contextlib import nullcontext
from datetime import UTC, date, datetime
from typing import cast

import pytest
from sqlalchemy.exc import IntegrityError

from service.store import quotes
from service.store.life import FOLLOWS, KINDS, Kind, may_follow
from service.store.models import Quote
from service.store.quotes import Happening
from service.store.session import OfficeSession
from tests.factories import PATHS, TOLD, QuoteFactory, QuoteRevisionFactory


def drive(session: OfficeSession, quote: Quote, revision: int, state: str) -> None:
    """Take a draft along its path into a state."""
    for kind in PATHS.get(state, ("draft", "issued", state))[1:]:
        quotes.record(session, quote, revision, cast(Kind, kind), happening(cast(Kind, kind)))


def drafts(session: OfficeSession, count: int) -> Quote:
    quote: Quote = QuoteFactory(session=session)
    for number in range(1, count + 1):
        QuoteRevisionFactory(session=session, quote=quote, revision=number)
    return quote


def happening(kind: Kind) -> Happening:
    said = {"issued": {"valid_until": date(2026, 3, 31)}, "accepted": TOLD}
    return Happening(datetime.now(UTC), **said.get(kind, {}))


@pytest.mark.parametrize("last", KINDS)
def test_the_database_and_the_code_know_the_same_table(last: Kind, session: OfficeSession) -> None:
    for kind in KINDS:
        quote = drafts(session, 2)
        drive(session, quote, 1, last)
        verdict = nullcontext() if may_follow(last, kind) else pytest.raises(IntegrityError, match="cannot")
        with verdict, session.begin_nested() as step:
            quotes.record(session, quote, 1, kind, happening(kind))
            step.rollback()
        session.refresh(quote)


def test_what_is_final_leads_nowhere_and_all_else_to_an_end() -> None:
    final = {kind for kind, following in FOLLOWS.items() if not following}
    assert final == {"accepted", "declined", "withdrawn", "expired", "superseded"}
    assert all(may_follow(None, kind) == (kind == "draft") for kind in KINDS)


def test_two_revisions_are_never_on_offer_together(session: OfficeSession) -> None:
    quote = drafts(session, 2)
    quotes.record(session, quote, 1, "issued", happening("issued"))
    with pytest.raises(IntegrityError, match="another revision is on offer"), session.begin_nested():
        quotes.record(session, quote, 2, "issued", happening("issued"))


def test_only_a_later_revision_supersedes(session: OfficeSession) -> None:
    quote = drafts(session, 1)
    with pytest.raises(IntegrityError, match="only a later revision"), session.begin_nested():
        quotes.record(session, quote, 1, "superseded", happening("superseded"))


def test_no_price_no_issue_and_no_revision_after_acceptance(session: OfficeSession) -> None:
    unpriced = QuoteRevisionFactory(session=session, gross=None)
    quote = quotes.find_quote(session, unpriced.quote_id)
    assert quote is not None
    with pytest.raises(IntegrityError, match="without a price"), session.begin_nested():
        quotes.record(session, quote, 1, "issued", happening("issued"))
    taken = QuoteFactory(session=session)
    QuoteRevisionFactory(session=session, quote=taken, state="accepted")
    with pytest.raises(IntegrityError, match="no further revision"), session.begin_nested():
        QuoteRevisionFactory(session=session, quote=taken, revision=2)


@pytest.mark.parametrize(
    ("states", "shown", "standing"),
    [
        (["draft"], "draft", 1),
        (["withdrawn"], "withdrawn", 1),
        (["issued", "draft"], "issued", 1),
        (["superseded", "issued"], "issued", 2),
        (["declined", "draft"], "draft", 2),
        (["expired", "superseded", "draft"], "draft", 3),
        (["accepted"], "accepted", 1),
    ],
)
def test_a_quotes_state_follows_from_its_revisions(
    states: list[str], shown: str, standing: int, session: OfficeSession
) -> None:
    quote = drafts(session, len(states))
    for number, state in enumerate(states, 1):
        drive(session, quote, number, state)
    assert (quote.state, quote.standing_revision) == (shown, standing)
    assert quote.current_revision == len(states)


def test_a_draft_withdrawn_beside_an_ended_offer_leaves_the_offers_end(session: OfficeSession) -> None:
    quote = QuoteFactory(session=session)
    QuoteRevisionFactory(session=session, quote=quote, state="declined")
    QuoteRevisionFactory(session=session, quote=quote, revision=2, state="draft")
    quotes.record(session, quote, 2, "withdrawn", happening("withdrawn"))
    assert (quote.state, quote.standing_revision) == ("declined", 1)
