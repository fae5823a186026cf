"""What an import refuses as a whole, in contrast to the rows that it leaves out."""

from __future__ import annotations

from service.quoting.errors import QuotingError


class FileRefused(QuotingError):
    """The file cannot be read as a price list; `option` names what the caller could say to help."""

    def __init__(self, detail: str, option: str | None = None) -> None:
        super().__init__(detail)
        self.option = option
