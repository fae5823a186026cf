"""gunicorn's worker with threads, which waits for no client longer than is fair to the others.

A connection takes no thread before it has said something; what a request says must come at a pace; a worker
that stops takes what waits at its door first.
"""

from __future__ import annotations

import os
import selectors
import time
from concurrent.futures import Executor
from contextlib import suppress
from functools import partial
from typing import Any

from gunicorn.workers.gthread import TConn, ThreadWorker

PATIENCE_S = 15.0
SLOWEST_BYTES_S = 10_000
"""A request may take `PATIENCE_S` and what its bytes take at this pace."""
SENDING_S = 30.0
FIRST_WORD_S = 30.0
"""How long a connection may be open before it says anything."""


class Paced:
    """A socket that ends where a request comes too slowly."""

    def __init__(self, sock: Any) -> None:
        self._sock = sock
        self.begin()

    def begin(self) -> None:
        """A request begins."""
        self._since, self._read = time.monotonic(), 0

    def recv(self, size: int) -> bytes:
        """What came; nothing where the client has left or took too long."""
        left = self._since + PATIENCE_S + self._read / SLOWEST_BYTES_S - time.monotonic()
        if left <= 0:
            return b""
        self._sock.settimeout(min(left, self._sock.gettimeout() or left))
        try:
            found: bytes = self._sock.recv(size)
        except TimeoutError:
            return b""
        finally:
            self._sock.settimeout(SENDING_S)
        self._read += len(found)
        return found

    def __getattr__(self, name: str) -> Any:
        return getattr(self._sock, name)


class Connection(TConn):  # type: ignore[misc]
    """One whose requests are read at a pace, and whose end holds up nobody."""

    closers: Executor | None = None

    def init(self) -> None:
        super().init()
        unreader = self.parser.unreader
        if not isinstance(unreader.sock, Paced):
            unreader.sock = Paced(unreader.sock)
        unreader.sock.begin()

    def close(self, graceful: bool = False) -> None:
        """A graceful end waits two seconds for the client's: nothing for the thread that accepts."""
        if graceful and self.closers is not None:
            with suppress(RuntimeError):  # the worker is about to end
                self.closers.submit(super().close, graceful=True)
                return
        super().close(graceful)


class Worker(ThreadWorker):  # type: ignore[misc]
    """See the module."""

    def accept(self, listener: Any) -> None:
        self._accepted(listener)

    def _accepted(self, listener: Any) -> bool:
        """Take one connection, if there is one, and wait for its first word without a thread."""
        try:
            sock, address = listener.accept()
        except (BlockingIOError, ConnectionAbortedError):
            return False
        self.nr_conns += 1
        connection = Connection(self.cfg, sock, address, listener.getsockname())
        connection.closers = self.tpool
        connection.timeout = time.monotonic() + FIRST_WORD_S
        self.pending_conns.append(connection)
        heard = partial(self.on_pending_socket_readable, connection)
        self.poller.register(sock, selectors.EVENT_READ, heard)
        return True

    def set_accept_enabled(self, enabled: bool) -> None:
        """Before the door is closed for good, those who stand at it come in."""
        leaving = not enabled and self._leaves()
        if leaving:
            for listener in self.sockets:
                while self._accepted(listener):
                    pass
        super().set_accept_enabled(enabled)
        if leaving:
            for listener in self.sockets:
                listener.close()

    def _leaves(self) -> bool:
        """It was told to, or whoever started it is gone."""
        return not self.alive or self.ppid != os.getppid()

    def _cap_keepalive(self, deadline: float) -> None:
        """Who has said nothing yet is waited for as long as who may say more."""
        super()._cap_keepalive(deadline)
        for connection in self.pending_conns:
            connection.timeout = min(connection.timeout, deadline)
