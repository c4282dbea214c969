"""GS1 element strings against published examples and the General Specifications' rules."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from biip import ParseError
from biip.gs1_messages import GS1Message
from biip.gtin import Gtin

from lumenward.evidence import Check
from lumenward.interchange.codes import Code, read_code, swallowed
from lumenward.quantities import Refusal

GS = "\x1d"
_SPECS = "GS1 General Specifications (950110153000 is GS1's documentation prefix)"
_FULL = f"01095011015300031728123110AB-123{GS}21SN0001"
_WHOLE = ["09501101530003", "AB-123", "2028-12-31", "SN0001"]
_FDA = "FDA, UDI formats by issuing agency, v1.3, 2017"
_HRI = "(01)51022222233336(11)141231(17)150707(10)A213B1(21)1234"
_RAW = f"]d20108806388269617112302141728021310230214A3263-01{GS}21059{GS}240ARO4808C"
_RAW_SOURCE = "a published description of raw scanner output (FNC1 as ASCII 29)"


def _parts(text: str) -> list[str]:
    return list(read_code(text).parts().values())


def _code(text: str) -> str:
    try:
        read_code(text)
    except Refusal as refusal:
        return refusal.code
    return "read"


def _date(text: str, which: Callable[[Code], Any]) -> str:
    return str(which(read_code(text)).isoformat())


def _valid(digits: str) -> bool:
    try:
        return bool(Gtin.parse(digits))
    except ParseError:
        return False


def _changed_digits(digits: str) -> list[str]:
    return [
        digits[:place] + other + digits[place + 1 :]
        for place in range(len(digits))
        for other in "0123456789"
        if other != digits[place]
    ]


def _own_check_digit(digits: str) -> int:
    total = sum(int(digit) * (3, 1)[place % 2] for place, digit in enumerate(reversed(digits[:13])))
    return -total % 10


def _check(
    name: str, expected: Any, ours: Callable[[], Any], source: str = _SPECS, known: str = "recalled"
) -> Check:
    return Check("GS1", name, expected, ours, 0, source, known)


CHECKS = [
    _check("GTIN, lot, expiry and serial of an element string", _WHOLE, lambda: _parts(_FULL)),
    _check("the same with ]d2 in front", _WHOLE, lambda: _parts("]d2" + _FULL)),
    _check("the same with ]C1 in front", _WHOLE, lambda: _parts("]C1" + _FULL)),
    _check(
        "the same as printed for people", _WHOLE, lambda: _parts("(01)09501101530003(17)281231(10)AB-123(21)SN0001")
    ),
    _check(
        "printed form of the element string", "(01)09501101530003(17)281231(10)AB-123(21)SN0001",
        lambda: GS1Message.parse(_FULL).as_hri(),
    ),
    _check("day 00 is the last day of the month", "2028-02-29",
           lambda: _date("01095011015300031728020010LOT9", lambda code: code.expiry)),
    _check("a year 51 to 99 ahead is in the century before", "1999-12-31",
           lambda: _date("0109501101530003112501151799123110X", lambda code: code.expiry)),
    _check("a production date beside it", "2025-01-15",
           lambda: _date("0109501101530003112501151799123110X", lambda code: code.made)),
    _check("a wrong check digit in a message that parses", "wrong-check-digit", lambda: _code("0109501101530004")),
    _check("a lost separator is swallowed by the lot", "AB-12321SN0001",
           lambda: read_code("01095011015300031728123110AB-12321SN0001").lot),
    _check("and is seen", ["AB-123", "21", "SN0001"], lambda: list(swallowed("AB-12321SN0001") or ())),
    _check("a month 13 is no date", "bad-date", lambda: _code("010950110153000317281331")),
    _check("letters are no date", "bad-date", lambda: _code("010950110153000317AB1231")),
    _check("a digital link carries the same elements", ["09501101530003", "AB-123", "2028-12-31", ""],
           lambda: _parts("https://id.gs1.org/01/09501101530003/10/AB-123?17=281231")),
    _check("a code of another system is not read as GS1", {}, lambda: read_code("+A999BJ5D6E71/$$3").elements),
    _check("published example, printed form", {"01": "51022222233336", "11": "141231", "17": "150707", "10": "A213B1",
           "21": "1234"}, lambda: read_code(_HRI).elements, _FDA, "read"),
    _check("its production date", "2014-12-31", lambda: _date(_HRI, lambda code: code.made), _FDA, "read"),
    _check("its expiry", "2015-07-07", lambda: _date(_HRI, lambda code: code.expiry), _FDA, "read"),
    _check("published raw scan", {"01": "08806388269617", "11": "230214", "17": "280213", "10": "230214A3263-01",
           "21": "059", "240": "ARO4808C"}, lambda: read_code(_RAW).elements, _RAW_SOURCE, "read"),
    *[
        _check(f"check digit of {digits}, own arithmetic", int(digits[-1]), lambda d=digits: _own_check_digit(d),
               "weights 3, 1, 3 … from the right", "closed form")
        for digits in ("51022222233336", "08806388269617", "09501101530003")
    ],
    *[
        _check(f"no changed digit of {digits} passes", 0, lambda d=digits: sum(_valid(c) for c in _changed_digits(d)),
               "arithmetic of weights 3 and 1 modulo 10", "closed form")
        for digits in ("51022222233336", "08806388269617")
    ],
]  # fmt: skip


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_gs1_codes_are_read_as_published(check: Check) -> None:
    check.assert_holds()
