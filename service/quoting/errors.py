"""What a use case refuses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the command line lists its options without loading how floors are priced
    from service.pricing.model import Gap


class QuotingError(Exception):
    """The base of what a use case refuses."""


class NotFound(QuotingError):
    """No such thing in this organisation."""

    def __init__(self, what: str) -> None:
        super().__init__(f"no such {what}")
        self.what = what


class Conflict(QuotingError):
    """The thing's state forbids what was asked; `field` is the field at fault where one is."""

    def __init__(self, detail: str, field: str | None = None) -> None:
        super().__init__(detail)
        self.field = field


class Unpriceable(QuotingError):
    """Some needs could not be bought; each gap names its role."""

    def __init__(self, gaps: Sequence[Gap]) -> None:
        super().__init__("; ".join(gap.message for gap in gaps))
        self.gaps = tuple(gaps)


class Unready(QuotingError):
    """The organisation has not set up what the use case needs: a labour table, terms."""
