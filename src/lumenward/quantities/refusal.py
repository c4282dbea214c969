"""The one shape in which anything here says no."""

from __future__ import annotations


class Refusal(Exception):
    """A refusal that a person can act on and a machine can read.

    `code` is a stable word for programs, `message` one plain sentence saying what was found and what is
    allowed, `field` the key or path the message belongs to (empty when it belongs to the whole), `hint` what
    to do instead.

    >>> Refusal("too-low", "A bore must be above zero; found -1.", "tubes[0].bore_m").as_dict()["code"]
    'too-low'
    """

    def __init__(self, code: str, message: str, field: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.field = field
        self.hint = hint

    def as_dict(self) -> dict[str, str]:
        """Return the keys `code`, `message`, `field`, `hint`, all strings."""
        return {"code": self.code, "message": self.message, "field": self.field, "hint": self.hint}
