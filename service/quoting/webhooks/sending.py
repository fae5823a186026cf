"""One message sent once, over a connection to an address that was judged before.

The socket is opened to that address and never to the name, so that no later answer of the DNS counts; TLS and
the Host header carry the name. Redirects are answers like any other, proxies of the environment are not
asked, and of an answer only status and headers are read.
"""

from __future__ import annotations

import http.client
import socket
import ssl
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from threading import Event, Thread, Timer
from time import monotonic

from service.quoting.webhooks.address import (
    Address,
    Network,
    Refused,
    Resolve,
    Target,
    look_up,
    public_addresses,
    target_of,
)
from service.quoting.webhooks.values import VALUES

FIXED = {"Content-Type": "application/json", "User-Agent": "floor-pricing-service", "Connection": "close"}
MOST_TRIED = 4  # of a name's addresses


@dataclass(frozen=True, slots=True)
class Outcome:
    """How an attempt went: the answer's status, or why there was none."""

    status: int | None
    error: str | None = None

    @property
    def delivered(self) -> bool:
        return self.status is not None and 200 <= self.status < 300

    @property
    def gone(self) -> bool:
        """The receiver wants no more (Standard Webhooks 1.0, 410 Gone)."""
        return self.status == 410


@dataclass(frozen=True, slots=True)
class Deadline:
    """One limit of time for look-up, connection, handshake and answer together."""

    at: float  # by the monotonic clock [s]

    @classmethod
    def after(cls, seconds: float) -> Deadline:
        return cls(monotonic() + seconds)

    def left_s(self) -> float:
        """What is left; TimeoutError where nothing is."""
        left = self.at - monotonic()
        if left <= 0:
            raise TimeoutError
        return left

    def kept_by(self, resolve: Resolve) -> Resolve:
        """The look-up, left to itself when the time is up: the system's own knows no limit."""

        def look_up_in_time(host: str, port: int) -> Sequence[str]:
            found: SimpleQueue[Sequence[str] | Exception] = SimpleQueue()
            Thread(target=_put, args=(found, resolve, host, port), daemon=True).start()
            try:
                answer = found.get(timeout=self.left_s())
            except Empty:
                raise TimeoutError from None
            if isinstance(answer, Exception):
                raise answer
            return answer

        return look_up_in_time


def _put(found: SimpleQueue[Sequence[str] | Exception], resolve: Resolve, host: str, port: int) -> None:
    try:
        found.put(resolve(host, port))
    except Exception as fault:  # raised again by who waits for it
        found.put(fault)


@dataclass(frozen=True, slots=True)
class Sender:
    """How messages leave: by which look-up, with which trust; `test_network` is let in beside the public."""

    test_network: Network | None = None
    resolve: Resolve = look_up
    trust: Callable[[], ssl.SSLContext] = ssl.create_default_context
    time_limit_s: float = VALUES.time_limit_s

    def send(self, url: str, headers: Mapping[str, str], body: bytes) -> Outcome:
        """POST the body; whatever goes wrong is told in the outcome."""
        try:
            target, until = target_of(url, self.test_network), Deadline.after(self.time_limit_s)
            addresses = public_addresses(target, until.kept_by(self.resolve), self.test_network)
            return self._post(target, addresses, headers, body, until)
        except Refused as refused:
            return Outcome(None, str(refused))
        except TimeoutError:
            return Outcome(None, f"No answer within {self.time_limit_s:g} s.")
        except (OSError, http.client.HTTPException, ValueError) as fault:
            return Outcome(None, f"{type(fault).__name__}: {fault}"[:300])

    def _post(
        self,
        target: Target,
        addresses: Sequence[Address],
        headers: Mapping[str, str],
        body: bytes,
        until: Deadline,
    ) -> Outcome:
        with self._connection(target, addresses, until) as connection:
            connection.request("POST", target.path, body, {"Host": target.authority, **FIXED, **headers})
            status = connection.getresponse().status
        return Outcome(status, "Redirects are not followed." if 300 <= status < 400 else None)

    @contextmanager
    def _connection(
        self, target: Target, addresses: Sequence[Address], until: Deadline
    ) -> Iterator[http.client.HTTPConnection]:
        """HTTP over a socket that is open already and is cut when the time is up."""
        connection = http.client.HTTPConnection(target.host, target.port)
        with _dialled(addresses, target.port, until) as plain:
            connection.sock = self._secured(plain, target) if target.tls else plain
            with connection.sock, _cut_after(until.left_s(), connection.sock):
                if isinstance(connection.sock, ssl.SSLSocket):
                    connection.sock.do_handshake()
                yield connection

    def _secured(self, plain: socket.socket, target: Target) -> ssl.SSLSocket:
        """TLS with the name's certificate, not shaken hands yet: the time is to be kept then, too."""
        return self.trust().wrap_socket(plain, server_hostname=target.host, do_handshake_on_connect=False)


def _dialled(addresses: Sequence[Address], port: int, until: Deadline) -> socket.socket:
    """A connection to the first address that answers, all tries together within the time that is left."""
    tried = addresses[:MOST_TRIED]
    fault = OSError("the name has no address")
    for place, address in enumerate(tried):
        try:
            return socket.create_connection((str(address), port), until.left_s() / (len(tried) - place))
        except OSError as error:
            fault = error
    raise fault


@contextmanager
def _cut_after(time_limit_s: float, open_socket: socket.socket) -> Iterator[None]:
    """A limit for the whole of it: a time-out of the socket begins anew with every byte that drips in."""
    cut = Event()
    timer = Timer(time_limit_s, _cut, (open_socket, cut))
    timer.daemon = True
    open_socket.settimeout(time_limit_s)
    timer.start()
    try:
        yield
    except (OSError, http.client.HTTPException):
        if not cut.is_set():
            raise
    finally:
        timer.cancel()
    if cut.is_set():  # headers that were cut off read like headers that ended
        raise TimeoutError


def _cut(open_socket: socket.socket, cut: Event) -> None:
    cut.set()
    with suppress(OSError):
        socket.socket.shutdown(open_socket, socket.SHUT_RDWR)  # TLS would drop its state in midst of a read
