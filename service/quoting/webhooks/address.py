"""Where a webhook may point: public addresses only, whatever the name says (OWASP, SSRF prevention).

An address is judged twice: when it is stored, so that the office is told, and whenever a message is sent,
since the answer of the DNS may have changed.
"""

from __future__ import annotations

import ipaddress
import re
import socket
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network
from urllib.parse import urlsplit

from service.quoting.webhooks.values import VALUES

Address = IPv4Address | IPv6Address
Network = IPv4Network | IPv6Network
Resolve = Callable[[str, int], Sequence[str]]
"""The addresses of a name at a port; OSError where it has none."""

MOST_LENGTH = 2000
LABEL = r"[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?"
NAME = re.compile(rf"({LABEL}\.)*{LABEL}")
NUMERIC = re.compile(r"(.*\.)?([0-9]+|0x[0-9a-f]*)")  # 2130706433, 0x7f.1: read as addresses by some
PUBLIC_V6 = IPv6Network("2000::/3")  # RFC 4291, 2.4: all else is not global unicast
CLOSED: tuple[Network, ...] = (
    IPv4Network("100.64.0.0/10"),  # RFC 6598, carriers' own
    IPv4Network("192.0.0.0/24"),  # RFC 6890, protocols' own
    IPv4Network("192.88.99.0/24"),  # RFC 7526, relays to 6to4
    IPv6Network("2001::/23"),  # RFC 2928, protocols' own, Teredo among them
    IPv6Network("2002::/16"),  # RFC 3056, 6to4: carries any IPv4 address
    IPv6Network("3fff::/20"),  # RFC 9637, documentation
    IPv6Network("64:ff9b::/96"),  # RFC 6052, NAT64: likewise
    IPv6Network("64:ff9b:1::/48"),  # RFC 8215
    IPv6Network("fec0::/10"),  # RFC 3879, sites' own of old
)


class Refused(ValueError):
    """An address that no message is sent to; the text tells the office why."""


@dataclass(frozen=True, slots=True)
class Target:
    """Where a message goes: the name for TLS and Host, and the path with its query."""

    tls: bool
    host: str
    port: int
    path: str

    @property
    def authority(self) -> str:
        """What the Host header says (RFC 9110, 7.2)."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == (443 if self.tls else 80) else f"{host}:{self.port}"


def target_of(url: str, test_network: Network | None = None) -> Target:
    """The parts of a URL that may be one; Refused otherwise. `test_network` lets http and any port pass."""
    if len(url) > MOST_LENGTH or not re.fullmatch(r"[!-\[\]-~]+", url):
        raise Refused("Must be a URL of printable ASCII letters, at most 2000.")
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        raise Refused("Not a URL.") from None
    if parts.scheme not in ({"https"} if test_network is None else {"https", "http"}):
        raise Refused("Must begin with https://.")
    if "@" in parts.netloc or "#" in url:
        raise Refused("Must have neither a user nor a fragment.")
    port = port if port is not None else 443 if parts.scheme == "https" else 80
    if test_network is None and port not in VALUES.ports:
        raise Refused(f"The port must be one of {', '.join(map(str, sorted(VALUES.ports)))}.")
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(parts.scheme == "https", _host(parts.hostname or "", parts.netloc), port, path)


def _host(host: str, netloc: str) -> str:
    if netloc.startswith("[") and "%" not in netloc:
        return str(_ip(host, IPv6Address))
    if re.fullmatch(r"[0-9]+(\.[0-9]+){3}", host):
        return str(_ip(host, IPv4Address))
    if not NAME.fullmatch(host) or len(host) > 253:
        raise Refused("The host must be a name or an address.")
    if NUMERIC.fullmatch(host):
        raise Refused("An address must be written as four decimal numbers, or as IPv6 in brackets.")
    return host


def _ip(host: str, kind: type[IPv4Address] | type[IPv6Address]) -> Address:
    try:
        return kind(host)
    except ValueError:
        raise Refused("Not an address.") from None


def public_addresses(target: Target, resolve: Resolve, test_network: Network | None = None) -> list[Address]:
    """The addresses of the target's host; Refused where any of them is not public, OSError where none is."""
    found = list(dict.fromkeys(_plain(text) for text in resolve(target.host, target.port)))
    if not found:
        raise OSError("the name has no address")
    for address in found:
        if test_network is None or address not in test_network:
            _judge(address, target)
    return found


def _judge(address: Address, target: Target) -> None:
    if not is_public(address):
        raise Refused("The host is no public address.")
    if not target.tls:
        raise Refused("Must begin with https://.")


def is_public(address: Address) -> bool:
    """Whether the address is one of the public network's hosts (IANA's special-purpose registries)."""
    if isinstance(address, IPv6Address):
        if address.ipv4_mapped is not None:
            return is_public(address.ipv4_mapped)
        if address not in PUBLIC_V6:
            return False
    closed = any(address in network for network in CLOSED if network.version == address.version)
    return address.is_global and not (closed or address.is_multicast or address.is_reserved)


def _plain(text: str) -> Address:
    address = ipaddress.ip_address(text.partition("%")[0])
    return getattr(address, "ipv4_mapped", None) or address


def look_up(host: str, port: int) -> Sequence[str]:
    """The system's own answer."""
    return [str(found[4][0]) for found in socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)]
