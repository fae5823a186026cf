"""An invented customer, whose data are looked for wherever they must not be."""

from __future__ import annotations

from typing import Any

NAME, STREET, EMAIL = "Wilhelmina Quastenflug", "Zwirbelgasse 17", "w.quastenflug@example.org"
PERSON: dict[str, Any] = {
    "name": NAME,
    "email": EMAIL,
    "phone": "+00 555 0199 77",
    "address": {"lines": [STREET], "city": "Knickerdorf"},
    "note": f"ask for {NAME}",
}
PERSONAL = ("quastenflug", "zwirbelgasse", "example.org", "555 0199", "knickerdorf")


def told_of(text: str) -> list[str]:
    """What of the person a text tells."""
    return [part for part in PERSONAL if part in text.lower()]
