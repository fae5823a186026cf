"""Any order of steps against a model of a few lines: the state of each revision, and which one stands."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import ClassVar

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from service.quoting.errors import Conflict, NotFound
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.step import ensure, in_order, locked, write
from service.store import quotes
from service.store.life import Kind
from service.store.session import OfficeSession
from tests.factories import TOLD
from tests.store.test_quotes import NOW, SNAPSHOT

ACTOR = Actor(datetime.now(UTC))
ENDS: list[Kind] = ["accepted", "declined", "withdrawn", "expired"]
NUMBERS = st.integers(1, 5)


class Life(RuleBasedStateMachine):
    session: ClassVar[OfficeSession]

    def __init__(self) -> None:
        super().__init__()
        self.id = quotes.add_quote(self.session, SNAPSHOT, NOW).quote.id
        self.model: list[str] = ["draft"]

    def tried(self, revision: int, kind: Kind) -> bool:
        quote = locked(self.session, self.id, None)
        try:
            with self.session.begin_nested(), in_order():
                ensure(self.session, quote, revision, kind)
                if kind == "issued" and quote.state == "issued":
                    write(self.session, quote, quote.standing_revision, "superseded", ACTOR)
                last_day = ACTOR.now.date() if kind == "issued" else None
                said = TOLD if kind == "accepted" else {}
                write(self.session, quote, revision, kind, ACTOR, valid_until=last_day, **said)
        except (Conflict, NotFound):
            return False
        return True

    @rule()
    def revise(self) -> None:
        quote = locked(self.session, self.id, None)
        try:
            with self.session.begin_nested(), in_order():
                quotes.add_revision(self.session, quote, SNAPSHOT, NOW)
        except Conflict:
            assert "accepted" in self.model
            return
        assert "accepted" not in self.model
        self.model = ["superseded" if state == "draft" else state for state in self.model]
        self.model.append("draft")

    @rule(revision=NUMBERS)
    def issue(self, revision: int) -> None:
        may = revision <= len(self.model) and self.model[revision - 1] == "draft"
        assert self.tried(revision, "issued") == may
        if may:
            self.model = ["superseded" if state == "issued" else state for state in self.model]
            self.model[revision - 1] = "issued"

    @rule(revision=NUMBERS, kind=st.sampled_from(ENDS))
    def end(self, revision: int, kind: Kind) -> None:
        state = self.model[revision - 1] if revision <= len(self.model) else None
        may = state == "issued" or (state == "draft" and kind == "withdrawn")
        assert self.tried(revision, kind) == may
        if may:
            self.model[revision - 1] = kind

    @invariant()
    def stands(self) -> None:
        self.session.expire_all()
        quote = locked(self.session, self.id, None)
        states = [quotes.state_of(self.session, self.id, n) for n in range(1, len(self.model) + 1)]
        assert states == self.model
        assert quote.current_revision == len(self.model)
        assert quote.state == self.model[quote.standing_revision - 1]
        held = [n for n, state in enumerate(self.model, 1) if state in ("issued", "accepted")]
        assert len(held) <= 1
        if held:
            assert [quote.standing_revision, quote.offered_revision] == held * 2
        elif "draft" in self.model:
            assert quote.state == "draft"


def test_any_order_of_steps_leaves_what_the_model_says(session: OfficeSession) -> None:
    short = settings(
        max_examples=12, stateful_step_count=12, suppress_health_check=list(HealthCheck), deadline=None
    )
    of_this_session: type[Life] = type("OfThisSession", (Life,), {"session": session})
    run_state_machine_as_test(of_this_session, settings=short)
