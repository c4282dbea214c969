"""Ids made where the act happens: UUID version 7 (RFC 9562), from an instant given by the caller.

Ids sort by their instant. That is a convenience of storage and never proof of the order of acts.
"""

from __future__ import annotations

import secrets
from typing import NamedTuple
from uuid import UUID

from lumenward.quantities import Refusal, echo

_LATEST_MS = 2**48 - 1
_VARIANT = 0b10


class ParsedId(NamedTuple):
    """An id and the instant in it, milliseconds since 1970-01-01 UTC."""

    id: UUID
    milliseconds: int


def make_id(milliseconds: int, random: bytes | None = None) -> UUID:
    """Return a UUIDv7 of this instant; `random` are 10 bytes (74 bits are used), fresh ones by default.

    Raises Refusal `bad-instant` outside 0 to 2⁴⁸ − 1 ms, `bad-random` unless 10 bytes.

    >>> str(make_id(1645557742000, bytes(10)))
    '017f22e2-79b0-7000-8000-000000000000'
    """
    if not 0 <= milliseconds <= _LATEST_MS:
        raise Refusal("bad-instant", f"{milliseconds} ms cannot be the instant of an id.", "milliseconds")
    chosen = secrets.token_bytes(10) if random is None else random
    if len(chosen) != 10:
        raise Refusal("bad-random", f"Ten random bytes are needed; found {len(chosen)}.", "random")
    bits = int.from_bytes(chosen, "big")
    high, low = (bits >> 62) & 0xFFF, bits & (2**62 - 1)
    return UUID(int=milliseconds << 80 | 7 << 76 | high << 64 | _VARIANT << 62 | low)


def parse_id(text: str, field: str = "id") -> ParsedId:
    """Return the id written in `text` (36 characters, dashes, any case) and its instant.

    Raises Refusal `bad-id` for anything that is not a UUID of version 7 in that form.

    >>> parse_id("017F22E2-79B0-7CC3-98C4-DC0C0C07398F").milliseconds
    1645557742000
    """
    try:
        found = UUID(text)
    except (ValueError, AttributeError, TypeError):
        raise _bad(text, field) from None
    if str(found) != text.lower() or found.version != 7:
        raise _bad(text, field)
    return ParsedId(found, found.int >> 80)


def _bad(text: str, field: str) -> Refusal:
    return Refusal(
        "bad-id",
        f"{echo(str(text))} is not an id (UUID version 7).",
        field,
        "An id has 36 characters, like 017f22e2-79b0-7cc3-98c4-dc0c0c07398f.",
    )
