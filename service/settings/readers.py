"""How the text of a setting is read; a ValueError says what it must be."""

from __future__ import annotations

from collections.abc import Callable
from ipaddress import IPv4Network, IPv6Network, ip_network
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlsplit

Network = IPv4Network | IPv6Network


class Address(NamedTuple):
    """Where a process listens."""

    host: str
    port: int


def postgres_url(text: str) -> str:
    return _of_scheme(text, "postgresql", "postgres", "postgresql+psycopg")


def redis_url(text: str) -> str:
    return _of_scheme(text, "redis", "rediss", "redis+unix")


def http_url(text: str) -> str:
    return _of_scheme(text, "http", "https")


def _of_scheme(text: str, *schemes: str) -> str:
    if urlsplit(text).scheme not in schemes:
        raise ValueError(f"must be a {schemes[0]}:// address")
    return text


def positive(text: str) -> int:
    number = int(text) if _is_whole(text) else 0
    if number < 1:
        raise ValueError("must be a whole number above 0")
    return number


def not_negative(text: str) -> int:
    if not _is_whole(text):
        raise ValueError("must be a whole number, 0 or above")
    return int(text)


def _is_whole(text: str) -> bool:
    return text.isascii() and text.isdecimal()


def one_of(*words: str) -> Callable[[str], str]:
    """A reader of one of these words."""

    def read(text: str) -> str:
        if text not in words:
            raise ValueError(f"must be {', '.join(words[:-1])} or {words[-1]}")
        return text

    return read


def network(text: str) -> Network:
    try:
        return ip_network(text)
    except ValueError:
        raise ValueError("must be a network such as 127.0.0.1/32") from None


def networks(text: str) -> tuple[Network, ...]:
    """Several, with commas between them."""
    return tuple(network(part.strip()) for part in text.split(","))


def address(text: str) -> Address:
    host, _, port = text.rpartition(":")
    if not host or not _is_whole(port) or not 0 < int(port) < 65_536:
        raise ValueError("must be an address such as 127.0.0.1:9100")
    return Address(host.strip("[]"), int(port))


def folder(text: str) -> Path:
    return Path(text).expanduser().absolute()
