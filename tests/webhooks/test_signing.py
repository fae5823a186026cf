"""Signatures against a published example and against an HMAC reckoned here; secrets sealed at rest."""

from __future__ import annotations

import base64
from datetime import UTC, datetime

import pytest

from service.quoting.webhooks.sealing import Unreadable, seal, unseal
from service.quoting.webhooks.signing import new_secret, signature, signed_headers
from tests.webhooks.receiver import signed_by

NOW = datetime(2026, 3, 2, 12, 0, 0, 900_000, tzinfo=UTC)


def test_the_published_example() -> None:
    """The example that goes with the Standard Webhooks text (from memory)."""
    signed = signature(
        "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
        "msg_p5jXN8AQM9LWM0D4loKWxJek",
        1614265330,
        b'{"test": 2432232314}',
    )
    assert signed == "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_every_secret_in_force_signs_in_the_order_given() -> None:
    new, old, other = (new_secret() for _ in range(3))
    body = '{"name":"Größe"}'.encode()
    headers = dict(signed_headers([new, old], "an-id", NOW, body))
    assert headers["webhook-timestamp"] == "1772452800"
    assert headers["webhook-signature"].split(" ")[0] == signature(new, "an-id", 1772452800, body)
    assert [signed_by(secret, headers, body) for secret in (new, old, other)] == [True, True, False]
    assert not signed_by(new, headers, body + b" ")
    assert not signed_by(new, headers | {"webhook-id": "another"}, body)


def test_a_secret_is_256_random_bits() -> None:
    made = {new_secret() for _ in range(50)}
    assert len(made) == 50
    assert {len(base64.b64decode(secret.removeprefix("whsec_"), validate=True)) for secret in made} == {32}


def test_a_sealed_secret_opens_under_its_pepper_only() -> None:
    secret = new_secret()
    sealed = seal(secret, "pepper")
    assert secret.removeprefix("whsec_") not in sealed
    assert unseal(sealed, "pepper") == secret
    with pytest.raises(Unreadable):
        unseal(sealed, "another pepper")
