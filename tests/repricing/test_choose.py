"""Baskets made anew: what one quote priced alone would buy, where that saves enough."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import Engine, select, text
from sqlalchemy.orm import Session

from service.demo.seed import ORGANISATION
from service.pricing import price
from service.pricing.model import Hours, Line, Terms
from service.pricing.terms import serving
from service.quoting.needs import needs_of
from service.quoting.quotes import StoredQuote, get_quote
from service.quoting.repricing import baskets, steer
from service.quoting.snapshot import from_json
from service.store import quotes as store
from service.store.models import PriceList, ProductRow
from service.store.prices import load_price_book
from service.store.session import transaction
from tests.repricing import office
from tests.repricing.test_keep import figures

DAY = date(2026, 3, 2)
ROOMS = [slice(None), slice(0, 1), slice(1, 2)]


def alone(session: Session, old: StoredQuote, new: StoredQuote) -> tuple[tuple[Line, ...], Any, Any]:
    """The same needs and hours priced by today's book, as one quote is."""
    revision = store.find_revision(session, new.id, new.revision)
    assert revision is not None
    assert old.priced is not None
    terms = from_json(revision.basis["terms"], Terms)
    needs = needs_of(old.takeoff.materials)
    roles = {role for need in needs for role in serving(need.role)}
    chosen = [UUID(need.product) for need in needs if need.product]
    book = load_price_book(session, roles, DAY, old.currency, (), chosen)
    labour = [line for line in old.priced.lines if line.kind == "labour"]
    hours = [Hours(line.role, "", line.quantity) for line in labour]
    priced = price(needs, hours, labour[0].cost, book, terms)
    return priced.lines, priced.totals, priced.basket


def all_cheaper(engine: Engine, percent: str, roles: Iterable[str] | None = None) -> None:
    """What the second supplier sells becomes cheaper by so much (or dearer below 0)."""
    with transaction(engine, ORGANISATION) as session:
        former = session.scalars(select(PriceList).where(PriceList.kind == "regular")).all()[1]
        wanted = (
            select(ProductRow.id)
            if roles is None
            else select(ProductRow.id).where(ProductRow.role.in_(roles))
        )
        office.follow(session, former, f"-{percent}", list(session.scalars(wanted)), DAY)


def changes(engine: Engine, run_id: UUID) -> dict[UUID, Any]:
    with transaction(engine, ORGANISATION) as session:
        return {row.quote_id: row for row in steer.changes(session, run_id, 200, None, None)}


def moved(change: Any, kind: str | None = None) -> Decimal:
    told = (Decimal(cause["amount"]) for cause in change.causes if kind in (None, cause["kind"]))
    return sum(told, Decimal(0))


def test_a_new_basket_is_that_of_one_quote_priced_alone(live_engine: Engine, batch: Engine) -> None:
    ids = office.quotes(live_engine, ROOMS)
    all_cheaper(live_engine, "60")
    run_id = office.run(batch, choice="choose")
    told = changes(live_engine, run_id)
    anew = 0
    with transaction(live_engine, ORGANISATION) as session:
        for quote_id in ids:
            change = told[quote_id]
            old, new = (get_quote(session, quote_id, n) for n in (1, change.new_revision))
            assert old.priced is not None
            assert new.priced is not None
            assert new.priced.totals is not None
            lines, totals, basket = alone(session, old, new)
            assert moved(change) == new.priced.totals.gross - old.priced.totals.gross != 0  # type: ignore[union-attr]
            if new.priced.basket is None:
                continue
            anew += 1
            assert figures(new.priced.lines) == figures(lines)
            assert [line.needs for line in new.priced.lines] == [line.needs for line in lines]
            assert (new.priced.totals, new.priced.basket) == (totals, basket)
            assert moved(change, "basket") < 0
    assert anew
    kept = office.run(batch, "preview", choice="choose", threshold=Decimal(0))
    assert all(not moved(change, "basket") for change in changes(live_engine, kept).values())


def test_a_basket_that_saves_no_more_than_the_threshold_is_kept(live_engine: Engine, batch: Engine) -> None:
    (id_,) = office.quotes(live_engine, ROOMS[:1])
    all_cheaper(live_engine, "60")
    kept = changes(live_engine, office.run(batch, "preview")).get(id_)
    saved = -moved(changes(live_engine, office.run(batch, "preview", choice="choose"))[id_], "basket")
    assert saved > 0
    for threshold, taken in ((saved - Decimal("0.01"), True), (saved, False)):
        run_id = office.run(batch, "preview", choice="choose", threshold=threshold)
        change = changes(live_engine, run_id).get(id_)
        assert bool(change and moved(change, "basket")) is taken
        if not taken:
            assert (change and (change.new_net, change.causes)) == (kept and (kept.new_net, kept.causes))


def test_what_is_no_longer_sold_is_bought_elsewhere(live_engine: Engine, batch: Engine) -> None:
    (id_,) = office.quotes(live_engine, ROOMS[1:2])
    with transaction(live_engine, ORGANISATION) as session:
        old = get_quote(session, id_)
        assert old.priced is not None
        line = next(line for line in old.priced.lines if line.role == "membrane")
        session.execute(text("UPDATE products SET archived_at = now() WHERE id = :id"), {"id": line.product})
    assert changes(live_engine, office.run(batch, "preview"))[id_].outcome == "unpriceable"
    change = changes(live_engine, office.run(batch, choice="choose", threshold=Decimal(10_000)))[id_]
    assert (change.outcome, moved(change)) == ("changed", change.new_gross - change.old_gross)
    with transaction(live_engine, ORGANISATION) as session:
        session.execute(text("UPDATE products SET archived_at = now() WHERE role = 'membrane'"))
    gone = changes(live_engine, office.run(batch, choice="choose"))[id_]
    assert gone.outcome == "unpriceable"
    assert "membrane" in gone.note


def test_equal_baskets_are_solved_once_and_the_rest_not_at_all(
    live_engine: Engine, batch: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    office.quotes(live_engine, [ROOMS[1]] * 3)
    solved: list[Any] = []
    whole = baskets.goods
    monkeypatch.setattr(baskets, "goods", lambda *told: (solved.append(told), whole(*told))[1])
    office.run(batch, choice="choose")
    assert solved == []
    all_cheaper(live_engine, "60", ["cove_profile"])  # no room of these has one
    run_id = office.run(batch, choice="choose")
    with transaction(live_engine, ORGANISATION) as session:
        run = office.found(session, run_id)
        assert (run.selected, run.visited, solved) == (3, 0, [])
    all_cheaper(live_engine, "60", ["membrane", "tile_mortar"])
    office.run(batch, choice="choose")
    assert len(solved) == 1


def test_goods_needed_sooner_than_anybody_delivers_are_kept(live_engine: Engine, batch: Engine) -> None:
    """A start date of the request that is over leaves no day to deliver."""
    with transaction(live_engine, ORGANISATION) as session:
        asked = replace(office.request(session, ROOMS[1]), start_date=date(2026, 3, 20))
        asked = replace(asked, body={**asked.body, "start_date": "2026-03-20"})
        office.make_quote(session, asked, office.NOW)
    all_cheaper(live_engine, "60")
    later = office.NOW.replace(day=25)
    on_time, late = (
        sum(
            moved(change, "basket")
            for change in changes(live_engine, office.run(batch, "preview", now=at, choice="choose")).values()
        )
        for at in (office.NOW, later)
    )
    assert on_time < 0 == late
