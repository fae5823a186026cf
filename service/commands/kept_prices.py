"""Prices of generated rooms, kept in files as they are found, so that hours of pricing can be gone on with.

A file belongs to a kind, a seed, the prices that the office asks and the code that reckoned: what was priced
otherwise is never mixed in.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import service
from service.ballpark.generate import rooms
from service.ballpark.sample import Sample
from service.quoting.ballparks.engine import Engine, Prices, prices, sampled
from service.quoting.ballparks.refresh import basis_of

KEPT = Path("build/ballparks")
PRICED_BY = (
    "ballpark/generate.py",
    "ballpark/distributions.py",
    "ballpark/rooms.toml",
    "quoting/ballparks/engine.py",
    "quoting/ballparks/rooms.py",
    "quoting/needs.py",
    "quoting/variants/shop.py",
    "cutting/**/*.py",
    "pricing/**/*.py",
    "takeoff/**/*.py",
)
"""The files that a price follows from; trade values and the office's prices are in the basis."""


class KeptPrices:
    """A line for each room in the order in which they are drawn: its prices by region, none where refused."""

    def __init__(self, folder: Path, engine: Engine, processes: int) -> None:
        self._engine, self._processes = engine, processes
        self._folder = folder / f"{basis_of(engine)}-{code()}"
        self._folder.mkdir(parents=True, exist_ok=True)

    def sample(self, kind: str, seed: int) -> Sample:
        """All that is kept of this kind."""
        known = self._known(kind, seed)
        return sampled(self._engine, list(rooms(kind, len(known), seed)), known)

    def go_on(self, kind: str, seed: int, count: int) -> Iterator[None]:
        """Price until `count` rooms of the kind are kept; tells of each."""
        have = len(self._known(kind, seed))
        wanted = islice(rooms(kind, count, seed), have, None)
        with self._file(kind, seed).open("a", encoding="utf-8") as file:
            for found in prices(self._engine, wanted, self._processes):
                file.write(json.dumps(found) + "\n")
                file.flush()
                yield

    def missing(self, kind: str, seed: int, count: int) -> int:
        return max(0, count - len(self._known(kind, seed)))

    def _known(self, kind: str, seed: int) -> list[Prices]:
        """Without a last line that was cut off; the file then ends with what is whole."""
        file = self._file(kind, seed)
        if not file.exists():
            return []
        text = file.read_text("utf-8")
        whole = text[: text.rfind("\n") + 1]
        if whole != text:
            file.write_text(whole, "utf-8")
        return [tuple(json.loads(line)) for line in whole.splitlines()]

    def _file(self, kind: str, seed: int) -> Path:
        return self._folder / f"{kind}-{seed}.jsonl"


def code() -> str:
    """A fingerprint of the code that prices."""
    root = Path(service.__file__).parent
    digest = hashlib.sha256()
    for file in sorted(file for pattern in PRICED_BY for file in root.glob(pattern)):
        digest.update(str(file.relative_to(root)).encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()[:12]
