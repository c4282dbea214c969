"""What a scanner sent, taken apart: GS1 element strings (GS1 General Specifications, read by biip) and plain codes.

A scanner may put a symbology identifier in front (`]d2`, `]C1`, `]Q3`, `]e0`: GS1; others: plain) and end with
Enter or Tab; FNC1 arrives as ASCII 29.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from lumenward.quantities import Refusal, echo

LONGEST = 200
_SEPARATOR = "\x1d"
_PREFIX = re.compile(r"^\][A-Za-z][0-9A-Za-z]")
_GS1_PREFIXES = frozenset({"]d2", "]C1", "]Q3", "]e0"})
_GS1_START = re.compile(r"^(01\d{14}|02\d{14}|00\d{18}|414\d{13}|8003|8004|8017\d{18}|8018\d{18})")
_HRI_START = re.compile(r"^\(\d{2,4}\)")
_GTIN_ALONE = re.compile(r"^(\d{8}|\d{12,14})$")
_SWALLOWED = re.compile(r"^(?P<lot>.+?)(?P<ai>21|17(?=\d{6}$)|11(?=\d{6})|240)(?P<tail>[\x21-\x7e]{1,20})$")


@dataclass(frozen=True)
class Code:
    """One scan: as it came, without what the scanner added, and the GS1 parts where there are any.

    `elements` are application identifier to value; `expiry` and `made` the dates of (17) and (11).
    """

    raw: str
    plain: str
    symbology: str = ""
    elements: dict[str, str] = field(default_factory=dict)
    expiry: date | None = None
    made: date | None = None

    @property
    def gtin(self) -> str:
        """The 14-digit item number, or nothing."""
        return self.elements.get("01", "")

    @property
    def lot(self) -> str:
        """The lot, or nothing."""
        return self.elements.get("10", "")

    @property
    def serial(self) -> str:
        """The serial number, or nothing."""
        return self.elements.get("21", "")

    def parts(self) -> dict[str, str]:
        """Return what a page shows of a GS1 code."""
        expiry = self.expiry.isoformat() if self.expiry else ""
        return {"gtin": self.gtin, "lot": self.lot, "expiry": expiry, "serial": self.serial}


def read_code(text: str) -> Code:
    """Return a scan taken apart, or raise a Refusal (`empty-code`, `long-code`, `bad-code`).

    >>> read_code("]d2010950110153000317281231" + "10AB-123" + chr(29) + "21SN0001").lot
    'AB-123'
    >>> read_code("LW-P-0107\\r").plain
    'LW-P-0107'
    """
    stripped = text.strip(" \t\r\n\x00\x02\x03\x04")
    if not stripped:
        raise Refusal("empty-code", "Nothing was scanned.", "code", "Scan again, or type the code.")
    if len(stripped) > LONGEST:
        message = f"This code has {len(stripped)} characters; at most {LONGEST} are read."
        raise Refusal("long-code", message, "code", "Scan one label at a time.")
    symbology = stripped[:3] if _PREFIX.match(stripped) else ""
    plain = stripped.removeprefix(symbology)
    if (
        symbology in _GS1_PREFIXES
        or _GS1_START.match(plain)
        or _SEPARATOR in plain
        or plain.startswith("https://")
    ):
        return _gs1(text, plain, symbology)
    if _HRI_START.match(plain):
        return _hri(text, plain, symbology)
    if _GTIN_ALONE.match(plain):
        return Code(text, plain, symbology, _item_number(plain))
    return Code(text, plain, symbology)


def swallowed(lot: str) -> tuple[str, str, str] | None:
    """Return (lot, identifier, rest) if a lot looks as if the separator after it was lost.

    >>> swallowed("AB-12321SN0001")
    ('AB-123', '21', 'SN0001')
    >>> swallowed("AB-123") is None
    True
    """
    match = _SWALLOWED.match(lot)
    return (match["lot"], match["ai"], match["tail"]) if match else None


def _gs1(raw: str, plain: str, symbology: str) -> Code:
    import biip

    try:
        result = biip.parse(plain)
    except biip.ParseError as error:
        raise _bad(plain, str(error)) from None
    message = result.gs1_message or result.gs1_digital_link_uri
    if message is None or not message.element_strings:
        raise _bad(plain, result.gs1_message_error or result.gs1_digital_link_uri_error or "")
    return _from_elements(raw, plain, symbology, message.element_strings)


def _hri(raw: str, plain: str, symbology: str) -> Code:
    from biip import ParseError
    from biip.gs1_messages import GS1Message

    try:
        message = GS1Message.parse_hri(plain)
    except ParseError as error:
        raise _bad(plain, str(error)) from None
    return _from_elements(raw, plain, symbology, message.element_strings)


def _from_elements(raw: str, plain: str, symbology: str, elements: Iterable[Any]) -> Code:
    found: dict[str, str] = {}
    dates: dict[str, date | None] = {}
    for element in elements:
        if element.gtin_error:
            raise _bad(plain, element.gtin_error)
        found[element.ai.ai] = element.value
        dates[element.ai.ai] = element.date
    return Code(raw, plain, symbology, found, dates.get("17"), dates.get("11"))


def _item_number(digits: str) -> dict[str, str]:
    from biip import ParseError
    from biip.gtin import Gtin

    try:
        Gtin.parse(digits)
    except ParseError:
        return {}
    return {"01": digits.zfill(14)}


def _bad(plain: str, why: str) -> Refusal:
    if "check digit" in why:
        return Refusal(
            "wrong-check-digit", "The item number of this code has a wrong check digit.", "code",
            "Scan again; if it stays, the label is damaged or misprinted.",
        )  # fmt: skip
    if re.search(r"AI \((11|12|13|15|16|17)\)", why):
        return Refusal(
            "bad-date", "A date of this code is no date.", "code", "Type what the label says, or ask."
        )
    return Refusal(
        "bad-code", f"{echo(plain)} begins like a GS1 code and cannot be read.", "code", "Scan again."
    )
