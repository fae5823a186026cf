"""What a take-off refuses, with the place of the fault."""

from __future__ import annotations


class InputError(ValueError):
    """Input that no floor can have; `pointer` (RFC 6901) is relative to what the function was given."""

    def __init__(self, pointer: str, detail: str) -> None:
        super().__init__(f"{pointer}: {detail}")
        self.pointer = pointer
        self.detail = detail

    def under(self, prefix: str) -> InputError:
        """The same fault seen from the containing object."""
        return InputError(prefix + self.pointer, self.detail)
