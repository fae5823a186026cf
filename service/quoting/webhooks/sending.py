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
from threading import Event, Timer

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
class Sender:
    """How messages leave: by which look-up, with which trust; `test_network` is let in beside the public."""

    test_network: Network | None = None
    resolve: Resolve = look_up
    trust: Callable[[], ssl.SSLContext] = ssl.create_default_context
    time_limit_s: float = VALUES.time_limit_s

    def send(self, url: str, headers: Mapping[str, str], body: bytes) -> Outcome:
        """POST the body; whatever goes wrong is told in the outcome."""
        try:
            target = target_of(url, self.test_network)
            addresses = public_addresses(target, self.resolve, self.test_network)
            return self._post(target, addresses, headers, body)
        except Refused as refused:
            return Outcome(None, str(refused))
        except TimeoutError:
            return Outcome(None, f"No answer within {self.time_limit_s:g} s.")
        except (OSError, http.client.HTTPException, ValueError) as fault:
            return Outcome(None, f"{type(fault).__name__}: {fault}"[:300])

    def _post(
        self, target: Target, addresses: Sequence[Address], headers: Mapping[str, str], body: bytes
    ) -> Outcome:
        with self._connection(target, addresses) as connection:
            connection.request("POST", target.path, body, {"Host": target.authority, **FIXED, **headers})
            status = connection.getresponse().status
        return Outcome(status, "Redirects are not followed." if 300 <= status < 400 else None)

    @contextmanager
    def _connection(
        self, target: Target, addresses: Sequence[Address]
    ) -> Iterator[http.client.HTTPConnection]:
        """HTTP over a socket that is open already and is cut when the time is up."""
        connection = http.client.HTTPConnection(target.host, target.port)
        with _dialled(addresses, target.port, self.time_limit_s) as plain:
            connection.sock = self._secured(plain, target) if target.tls else plain
            with connection.sock, _cut_after(self.time_limit_s, connection.sock):
                if isinstance(connection.sock, ssl.SSLSocket):
                    connection.sock.do_handshake()
                yield connection

    def _secured(self, plain: socket.socket, target: Target) -> ssl.SSLSocket:
        """TLS with the name's certificate, not shaken hands yet: the time is to be kept then, too."""
        return self.trust().wrap_socket(plain, server_hostname=target.host, do_handshake_on_connect=False)


def _dialled(addresses: Sequence[Address], port: int, time_limit_s: float) -> socket.socket:
    """A connection to the first address that answers, all tries together within the time."""
    tried = addresses[:MOST_TRIED]
    fault = OSError("the name has no address")
    for address in tried:
        try:
            return socket.create_connection((str(address), port), time_limit_s / len(tried))
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
