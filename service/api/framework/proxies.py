"""Who really calls, where proxies stand in front: X-Forwarded-For and X-Forwarded-Proto, from them only.

Anybody may send these headers. They count where the connection comes from a network of our proxies, and then
as many entries from the right as there are proxies.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from ipaddress import ip_address
from typing import TYPE_CHECKING

from werkzeug.middleware.proxy_fix import ProxyFix

from service.settings.readers import Network

if TYPE_CHECKING:
    from _typeshed.wsgi import StartResponse, WSGIApplication, WSGIEnvironment


class BehindProxies:
    """The application, told by `count` proxies in `networks` who calls."""

    def __init__(self, app: WSGIApplication, count: int, networks: Sequence[Network]) -> None:
        self._app = app
        self._told = ProxyFix(app, x_for=count, x_proto=1)
        self._from_proxy = lru_cache(maxsize=1024)(lambda peer: _within(peer, networks))

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        app = self._told if self._from_proxy(environ.get("REMOTE_ADDR", "")) else self._app
        return app(environ, start_response)


def _within(peer: str, networks: Sequence[Network]) -> bool:
    try:
        found = ip_address(peer)
    except ValueError:  # no address, as over a Unix socket
        return False
    found = getattr(found, "ipv4_mapped", None) or found
    return any(found in network for network in networks)
