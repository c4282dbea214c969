"""The bench card: codes on the wall that do what a touch does (`scan.js` reads them)."""

from __future__ import annotations

import segno

CARD: tuple[tuple[str, str], ...] = (
    ("LW-GO-ON", "Go on"),
    ("LW-YES", "Yes, this is so"),
    *((f"LW-{digit}", str(digit)) for digit in range(10)),
    ("LW-POINT", "Decimal point"),
    ("LW-BACK", "Take the last figure back"),
    *((f"LW-{letter}", f"Choice {letter}") for letter in "ABCDEFGH"),
)


def picture(code: str) -> str:
    """Return a code as an SVG data address, sharp at any size.

    >>> picture("LW-GO-ON").startswith("data:image/svg+xml")
    True
    """
    return segno.make(code, error="m", micro=False).svg_data_uri(scale=4, border=2)
