"""Values read at most every few seconds, by one thread at a time, and never older than a limit."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from threading import Lock
from typing import Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
Value = TypeVar("Value")

READ_AGAIN_S = 2.0
OLDEST_S = 4.0
"""What is older is not used: a change is seen within this and the time that reading takes."""


@dataclass(slots=True)
class _Entry(Generic[Value]):
    lock: Lock
    read_at: float = float("-inf")
    value: Value | None = None


class Fresh(Generic[Key, Value]):
    """Values by key, the `most` asked for last; `load` gets the key and the value before, None at first.

    A value of middling age is read again by whoever comes first while the others still use it.
    """

    def __init__(
        self,
        load: Callable[[Key, Value | None], Value],
        most: int = 1000,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._load, self._most, self._clock = load, most, clock
        self._entries: OrderedDict[Key, _Entry[Value]] = OrderedDict()
        self._lock = Lock()

    def get(self, key: Key) -> Value:
        """The value; whatever `load` raises where there is none that is young enough."""
        entry = self._entry(key)
        age = self._clock() - entry.read_at
        if age < READ_AGAIN_S:
            return entry.value  # type: ignore[return-value] # it was read
        if not entry.lock.acquire(blocking=age >= OLDEST_S):
            return entry.value  # type: ignore[return-value]
        try:
            return self._read(key, entry)
        finally:
            entry.lock.release()

    def _read(self, key: Key, entry: _Entry[Value]) -> Value:
        began = self._clock()
        if began - entry.read_at >= READ_AGAIN_S:  # else another has read it meanwhile
            entry.value = self._load(key, entry.value)
            entry.read_at = began
        return entry.value  # type: ignore[return-value]

    def _entry(self, key: Key) -> _Entry[Value]:
        with self._lock:
            entry = self._entries.get(key)
            if entry is None:
                entry = self._entries[key] = _Entry(Lock())
                if len(self._entries) > self._most:
                    self._entries.popitem(last=False)
            else:
                self._entries.move_to_end(key)
            return entry
