"""Messages over real connections: to the judged address only, without redirects, within their time."""

from __future__ import annotations

import socket
import ssl
import time
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from ipaddress import ip_network
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID

from service.quoting.webhooks.sending import Outcome, Sender
from tests.webhooks.receiver import Receiver, receiving

HERE = ip_network("127.0.0.1/32")
SENDER = Sender(test_network=HERE, time_limit_s=5)
MESSAGE = {"webhook-id": "an-id"}
CLOSED = Outcome(None, "The host is no public address.")


class Answers:
    """A DNS whose answer changes: the last one stays."""

    def __init__(self, *answers: Sequence[str]) -> None:
        self.answers = list(answers)
        self.asked = 0

    def __call__(self, host: str, port: int) -> Sequence[str]:
        self.asked += 1
        return self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]


def test_a_message_arrives_whole(receiver: Receiver) -> None:
    outcome = SENDER.send(receiver.url, MESSAGE, b'{"a":1}')
    assert (outcome.status, outcome.delivered) == (204, True)
    ((headers, body),) = receiver.came
    assert body == b'{"a":1}'
    assert headers[":path"] == "/hook?of=floors"
    assert (headers["webhook-id"], headers["content-type"]) == ("an-id", "application/json")
    assert headers["host"] == f"127.0.0.1:{receiver.port}"


def test_without_the_test_network_nothing_of_this_machine_is_reached(receiver: Receiver) -> None:
    assert Sender().send(receiver.url, MESSAGE, b"").status is None
    assert Sender().send("https://localhost/", MESSAGE, b"") == CLOSED
    assert Sender().send("https://127.0.0.1:8443/", MESSAGE, b"") == CLOSED
    assert receiver.came == []


def test_a_redirect_is_not_followed(receiver: Receiver) -> None:
    with receiving() as inner:
        receiver.status, receiver.location = 307, inner.url
        outcome = SENDER.send(receiver.url, MESSAGE, b"{}")
        assert (outcome.status, outcome.delivered) == (307, False)
        assert len(receiver.came) == 1
        assert inner.came == []


def test_the_judged_address_is_the_one_that_is_called(receiver: Receiver) -> None:
    """Public when judged, this machine afterwards: were the name looked up again, it would be heard."""
    changing = Answers(["203.0.113.1"], ["127.0.0.1"])
    sender = Sender(test_network=ip_network("203.0.113.1/32"), resolve=changing, time_limit_s=0.3)
    url = f"http://localhost:{receiver.port}/"
    assert not sender.send(url, MESSAGE, b"{}").delivered
    assert (changing.asked, receiver.came) == (1, [])
    assert sender.send(url, MESSAGE, b"{}") == CLOSED, "and it is judged anew each time"
    assert (changing.asked, receiver.came) == (2, [])


def test_a_name_is_called_at_its_judged_address_under_its_own_name(receiver: Receiver) -> None:
    sender = Sender(test_network=HERE, resolve=Answers(["127.0.0.1"]))
    assert sender.send(f"http://hooks.invalid:{receiver.port}/", MESSAGE, b"{}").delivered
    assert receiver.came[0][0]["host"] == f"hooks.invalid:{receiver.port}"


def test_proxies_of_the_environment_are_not_asked(
    receiver: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    with receiving() as proxy:
        for name in ("http_proxy", "https_proxy", "all_proxy"):
            monkeypatch.setenv(name, f"http://127.0.0.1:{proxy.port}")
        assert SENDER.send(receiver.url, MESSAGE, b"{}").delivered
        assert proxy.came == []


def drip(handler: Any) -> None:
    """A header that never ends, a byte at a time: no single wait is long."""
    handler.wfile.write(b"HTTP/1.1 200 OK\r\nX-Long: ")
    try:
        for _ in range(200):
            time.sleep(0.02)
            handler.wfile.write(b"x")
    except OSError:
        return


def test_an_answer_that_drips_in_is_cut_off_in_time(receiver: Receiver) -> None:
    receiver.answer = drip
    began = time.monotonic()
    outcome = Sender(test_network=HERE, time_limit_s=0.3).send(receiver.url, MESSAGE, b"{}")
    assert outcome == Outcome(None, "No answer within 0.3 s.")
    assert time.monotonic() - began < 2


def test_look_up_connection_and_answer_share_one_limit(receiver: Receiver) -> None:
    """A look-up that takes most of the time leaves the rest of it to the answer, and none ends it."""

    def slow(seconds: float) -> Sender:
        def resolve(host: str, port: int) -> list[str]:
            time.sleep(seconds)
            return ["127.0.0.1"]

        return Sender(test_network=HERE, resolve=resolve, time_limit_s=1.0)

    receiver.answer = drip
    url = f"http://hooks.invalid:{receiver.port}/"
    for seconds in (0.9, 5.0):
        began = time.monotonic()
        assert slow(seconds).send(url, MESSAGE, b"{}") == Outcome(None, "No answer within 1 s.")
        assert 0.9 < time.monotonic() - began < 1.6


def flood(handler: Any) -> None:
    """Headers first, then a body without an end."""
    handler.wfile.write(b"HTTP/1.1 200 OK\r\n\r\n")
    try:
        while True:
            handler.wfile.write(b"x" * 65_536)
    except OSError:
        return


def test_of_an_endless_answer_only_the_headers_are_read(receiver: Receiver) -> None:
    receiver.answer = flood
    began = time.monotonic()
    assert SENDER.send(receiver.url, MESSAGE, b"{}").delivered
    assert time.monotonic() - began < 2


@pytest.mark.parametrize(
    "said", [b"", b"SSH-2.0-x\r\n", b"HTTP/1.1 999999 x\r\n\r\n", b"HTTP/1.1 200 OK\r\nX: " + b"x" * 70_000]
)
def test_what_is_no_http_is_a_failure_that_is_told(receiver: Receiver, said: bytes) -> None:
    receiver.answer = lambda handler: handler.wfile.write(said)
    outcome = SENDER.send(receiver.url, MESSAGE, b"{}")
    assert outcome.status is None
    assert outcome.error


def test_nobody_there() -> None:
    with receiving() as gone:
        url = gone.url
    outcome = SENDER.send(url, MESSAGE, b"{}")
    assert outcome.status is None
    assert "refused" in str(outcome.error).lower()
    nowhere = Sender(resolve=Answers([])).send("https://hooks.example.com/", MESSAGE, b"{}")
    assert nowhere == Outcome(None, "OSError: the name has no address")


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A certificate of its own making for hooks.invalid, with its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "hooks.invalid")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("hooks.invalid")]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, SHA256())
    )
    file = tmp_path_factory.mktemp("tls") / "hooks.pem"
    plain = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    file.write_bytes(plain + made.public_bytes(Encoding.PEM))
    return file


@pytest.fixture
def secured(certificate: Path) -> Iterator[Receiver]:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    with receiving(context) as found:
        yield found


def trusting(certificate: Path, resolve: Answers) -> Sender:
    context = ssl.create_default_context(cafile=str(certificate))
    return Sender(test_network=HERE, resolve=resolve, trust=lambda: context, time_limit_s=5)


def test_over_tls_the_certificate_must_be_the_names(secured: Receiver, certificate: Path) -> None:
    sender = trusting(certificate, Answers(["127.0.0.1"]))
    assert sender.send(f"https://hooks.invalid:{secured.port}/", MESSAGE, b"{}").delivered
    other = sender.send(f"https://other.invalid:{secured.port}/", MESSAGE, b"{}")
    assert other.status is None
    assert "certificate" in str(other.error).lower()
    unknown = Sender(test_network=HERE, resolve=Answers(["127.0.0.1"]))
    assert "certificate" in str(unknown.send(f"https://hooks.invalid:{secured.port}/", MESSAGE, b"").error)
    assert len(secured.came) == 1


def test_a_handshake_that_never_comes_is_cut_off(certificate: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as silent:
        sender = Sender(test_network=HERE, time_limit_s=0.3)
        began = time.monotonic()
        outcome = sender.send(f"https://127.0.0.1:{silent.getsockname()[1]}/", MESSAGE, b"{}")
    assert outcome == Outcome(None, "No answer within 0.3 s.")
    assert time.monotonic() - began < 2
