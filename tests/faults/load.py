"""Callers who keep asking for quotes, and what must be true of what they were told."""

from __future__ import annotations

import threading
import time
import uuid
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import psycopg

from service.store.engine import libpq_url
from tests.faults.house import Answer, House

NUMBERS = "SELECT number FROM quotes WHERE number IS NOT NULL ORDER BY number"
HALVES = """
SELECT count(*) FROM quotes
WHERE number IS NULL OR NOT EXISTS (
    SELECT FROM quote_revisions AS revision
    JOIN quote_events AS happened USING (org_id, quote_id, revision)
    JOIN quote_lines AS line USING (org_id, quote_id, revision)
    WHERE revision.quote_id = quotes.id AND gross IS NOT NULL
)
"""
KEPT = """
SELECT customers.name, quotes.id::text, quotes.number
FROM quotes JOIN customers ON customers.org_id = quotes.org_id AND customers.id = quotes.customer_id
"""


@dataclass
class Load:
    """What was asked for by name, and what was answered."""

    house: House
    told: dict[str, Answer] = field(default_factory=dict)
    ended: list[float] = field(default_factory=list)
    stopped: threading.Event = field(default_factory=threading.Event)

    def ask(self) -> None:
        while not self.stopped.is_set():
            name = uuid.uuid4().hex
            self.told[name] = answer = self.house.quote(name)
            self.ended.append(time.monotonic())
            if answer.status != 201:
                self.stopped.wait(0.2)

    def statuses(self) -> Counter[int]:
        return Counter(answer.status for answer in self.told.values())

    def made(self) -> int:
        return self.statuses()[201]


@contextmanager
def load(house: House, callers: int = 4) -> Iterator[Load]:
    """So many callers for as long as the block runs."""
    found = Load(house)
    threads = [threading.Thread(target=found.ask) for _ in range(callers)]
    for thread in threads:
        thread.start()
    try:
        yield found
    finally:
        found.stopped.set()
        for thread in threads:
            thread.join()


def ensure_nothing_lost(found: Load) -> None:
    """What was answered 201 is there as told; the rest is whole or absent; numbers have no gap; and whoever
    asks again with the same key gets one quote."""
    kept = _kept(found.house)
    for name, answer in found.told.items():
        if answer.status == 201:
            assert kept[name] == (answer.body["id"], answer.body["number"])
    again = [name for name, answer in found.told.items() if answer.status != 201]
    for name in again[:5]:
        answer = found.house.quote(name)
        assert answer.status == 201
        assert kept.get(name, (answer.body["id"],))[0] == answer.body["id"]
    _kept(found.house)


def _kept(house: House) -> dict[str, tuple[str, str]]:
    with psycopg.connect(libpq_url(house.database)) as connection:
        rows = connection.execute(KEPT).fetchall()
        numbers = [str(number) for (number,) in connection.execute(NUMBERS).fetchall()]
        assert connection.execute(HALVES).fetchone() == (0,)
    assert [int(number.rpartition("-")[2]) for number in numbers] == list(range(1, len(numbers) + 1))
    assert len({name for name, *_ in rows}) == len(rows)
    return {name: (quote_id, number) for name, quote_id, number in rows}
