"""The short code on a printed record, and the picture of it that a scanner reads.

The code stands for the acts of one cycle in the order in which they were recorded: the root of the tree over their
leaves (RFC 6962), its first 80 bits in Crockford's base 32, which has no letter that looks like a digit. Acts that
are recorded later leave every earlier code true for the acts before them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from lumenward.ledger.merkle import Frontier
from lumenward.quantities import Refusal

LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_BITS, _GROUP = 80, 4
_PREFIX = "LW-RECORD"
_ALIKE = str.maketrans({"O": "0", "I": "1", "L": "1"})
_ID = r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}"
_SCANNED = re.compile(rf"^{_PREFIX}/({_ID})/([0-9A-Z-]{{16,19}})$")


def short_code(leaves: Sequence[str]) -> str:
    """Return the code over leaf hashes (hexadecimal), in their order in the ledger.

    >>> short_code(["6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"])
    'DRT0-Q77Z-PDX9-H755'
    """
    return _codes(leaves)[-1]


def acts_covered(code: str, leaves: Sequence[str]) -> int | None:
    """Return how many of the first acts a printed code stands for, or None where it stands for none of them."""
    wanted = tidy(code)
    found = [place for place, known in enumerate(_codes(leaves)) if known == wanted]
    return found[-1] if found and found[-1] > 0 else None


def tidy(code: str) -> str:
    """Return a code as it is printed, however it was typed; letters that look like digits are taken for them.

    >>> tidy("drto q77z-pdx9h755")
    'DRT0-Q77Z-PDX9-H755'
    """
    letters = re.sub(r"[^0-9A-Z]", "", code.upper()).translate(_ALIKE)
    return "-".join(letters[place : place + _GROUP] for place in range(0, len(letters), _GROUP))


def payload(cycle: str, code: str) -> str:
    """Return the text in the picture: which cycle, and the code."""
    return f"{_PREFIX}/{cycle}/{code}"


def read_payload(text: str) -> tuple[str, str] | None:
    """Return (cycle, code) of a scanned picture, or None for any other text."""
    found = _SCANNED.match(text.strip())
    return (found[1], tidy(found[2])) if found else None


def picture(text: str) -> str:
    """Return a QR code as the data address of an SVG: dark on white in any colour scheme, with its quiet zone."""
    import segno

    made = segno.make(text, error="m", micro=False)
    svg: str = made.svg_data_uri(scale=1, border=4, dark="#000", light="#fff", omitsize=True)
    return svg


def _codes(leaves: Sequence[str]) -> list[str]:
    frontier = Frontier()
    codes = [_spell(frontier.root())]
    for leaf in leaves:
        try:
            frontier.append(bytes.fromhex(leaf))
        except ValueError:
            raise Refusal("bad-leaf", f"{leaf[:20]!r} is not a leaf hash.", "leaf") from None
        codes.append(_spell(frontier.root()))
    return codes


def _spell(root: bytes) -> str:
    number = int.from_bytes(root[: _BITS // 8], "big")
    letters = "".join(LETTERS[number >> shift & 31] for shift in range(_BITS - 5, -1, -5))
    return "-".join(letters[place : place + _GROUP] for place in range(0, len(letters), _GROUP))
