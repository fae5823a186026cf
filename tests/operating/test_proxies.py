"""Whose address counts: the caller's, as told by our own proxies and by nobody else (RFC 7239, 8.1)."""

from __future__ import annotations

from ipaddress import ip_network
from typing import Any

import pytest
from werkzeug.test import create_environ, run_wsgi_app
from werkzeug.wrappers import Request, Response

from service.api.framework.proxies import BehindProxies

NETWORKS = (ip_network("10.0.0.0/8"), ip_network("fc00::/7"))


@Request.application
def told(request: Request) -> Response:
    return Response(f"{request.remote_addr} {request.scheme}")


def seen(count: int, peer: str, **headers: str) -> str:
    environ: dict[str, Any] = create_environ(headers=headers, environ_overrides={"REMOTE_ADDR": peer})
    body, _, _ = run_wsgi_app(BehindProxies(told, count, NETWORKS), environ)
    return b"".join(body).decode()


@pytest.mark.parametrize(
    ("count", "peer", "sent", "address"),
    [
        (1, "10.0.0.2", "203.0.113.9", "203.0.113.9"),
        (1, "fc00::2", "203.0.113.9", "203.0.113.9"),
        (1, "::ffff:10.0.0.2", "203.0.113.9", "203.0.113.9"),
        (1, "10.0.0.2", "192.0.2.66, 203.0.113.9", "203.0.113.9"),  # the first is what the caller made up
        (2, "10.0.0.2", "192.0.2.66, 203.0.113.9, 10.0.0.3", "203.0.113.9"),
        (1, "198.51.100.4", "192.0.2.66", "198.51.100.4"),  # past the proxy
        (1, "", "192.0.2.66", ""),
    ],
)
def test_the_address_is_the_one_that_our_proxies_saw(count: int, peer: str, sent: str, address: str) -> None:
    assert seen(count, peer, **{"X-Forwarded-For": sent}).split(" ")[0] == address


def test_the_scheme_too_is_believed_from_proxies_only() -> None:
    said = {"X-Forwarded-Proto": "https"}
    assert seen(1, "10.0.0.2", **said).endswith("https")
    assert seen(1, "198.51.100.4", **said).endswith("http")
