"""Hashes as text: strict in reading, because a verifier must not be generous."""

from __future__ import annotations

import re

from lumenward.quantities import Refusal, echo

_HEX = re.compile(r"(?:[0-9a-fA-F]{2})*")


def read_hex(text: str, field: str = "") -> bytes:
    """Return the bytes of hexadecimal `text`, which may be empty; refuse blanks, prefixes and odd lengths.

    Raises Refusal `not-hex`.

    >>> read_hex("00ff")
    b'\\x00\\xff'
    """
    if not _HEX.fullmatch(text):
        raise Refusal(
            "not-hex",
            f"{field or 'The text'}: hexadecimal digits in pairs are expected; found {echo(text)}.",
            field,
            "Write two digits 0-9 a-f for each byte, without blanks or 0x.",
        )
    return bytes.fromhex(text)
