"""A receiver of webhooks on this machine, and checks of its own of what it gets."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from ssl import SSLContext
from typing import Any


@dataclass
class Receiver:
    """What came, and what is answered: a status, or whatever `answer` writes to the connection."""

    url: str
    port: int
    status: int = 204
    location: str | None = None
    answer: Callable[[Any], None] | None = None
    came: list[tuple[dict[str, str], bytes]] = field(default_factory=list)

    @property
    def ids(self) -> list[str]:
        return [headers["webhook-id"] for headers, _ in self.came]

    @property
    def bodies(self) -> list[dict[str, Any]]:
        return [json.loads(body) for _, body in self.came]


@contextmanager
def receiving(tls: SSLContext | None = None) -> Iterator[Receiver]:
    """A receiver on a free port of 127.0.0.1 for as long as the block runs."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), _handler())
    server.daemon_threads = True
    if tls is not None:
        server.socket = tls.wrap_socket(server.socket, server_side=True)
    port = server.server_address[1]
    receiver = Receiver(f"{'https' if tls else 'http'}://127.0.0.1:{port}/hook?of=floors", port)
    server.RequestHandlerClass.receiver = receiver  # type: ignore[attr-defined]
    thread = threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def _handler() -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        receiver: Receiver

        def do_POST(self) -> None:
            told = self.receiver
            body = self.rfile.read(int(self.headers["Content-Length"]))
            said = {name.lower(): value for name, value in self.headers.items()}
            told.came.append(({**said, ":path": self.path}, body))
            if told.answer is not None:
                told.answer(self)
                return
            self.send_response(told.status)
            if told.location:
                self.send_header("Location", told.location)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *args: Any) -> None:
            """Says nothing."""

    return Handler


def signed_by(secret: str, headers: dict[str, str], body: bytes) -> bool:
    """Whether one of the message's signatures is by this secret, reckoned from the text's words."""
    key = base64.b64decode(secret.split("_", 1)[1])
    content = b".".join([headers["webhook-id"].encode(), headers["webhook-timestamp"].encode(), body])
    expected = base64.b64encode(hmac.new(key, content, hashlib.sha256).digest()).decode()
    return any(found == f"v1,{expected}" for found in headers["webhook-signature"].split(" "))
