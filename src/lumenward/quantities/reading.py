"""What a person or a machine wrote, as a number; anything that could be read two ways is refused."""

from __future__ import annotations

import math
import re

from lumenward.quantities.refusal import Refusal
from lumenward.quantities.units import ABSOLUTE_ZERO_C, Unit, convert, find_unit, symbols, to_si

LONGEST = 60
_SPACES = "\u0020\u00a0\u2007\u2009\u202f"
_PLAIN = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_GROUPED = re.compile(rf"[+-]?\d{{1,3}}([{_SPACES}]\d{{3}})+([.,]\d*)?", re.ASCII)
_THOUSANDS_OR_DECIMAL = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
_MINUS = str.maketrans({"\u2212": "-", "\u2010": "-", "\u2011": "-"})
_SPLIT = re.compile(rf"([+-]?[\d.,{_SPACES}]*(?:[eE][+-]?\d{{1,3}})?)(.*)", re.DOTALL | re.ASCII)


def parse_number(text: str, field: str = "", *, decimal: str | None = None) -> float:
    """Return the finite number written in `text`.

    One decimal sign, point or comma; groups of three digits may be parted by spaces (thin ones too); an
    exponent is allowed. A second separator ("1,234.5") is refused rather than read as thousands, and so is a
    lone comma before exactly three digits ("1,234"), which is 1234 to one reader and 1.234 to another; with
    `decimal=","` the writer has said which. Raises Refusal `empty`, `too-long`, `not-a-number`,
    `ambiguous-number` or `too-large`.

    >>> parse_number("0,55"), parse_number("1 250"), parse_number(" -40 ")
    (0.55, 1250.0, -40.0)
    """
    cleaned = _cleaned(text, field)
    _refuse_ambiguous(cleaned, field, decimal)
    if not (_PLAIN.fullmatch(cleaned) or _GROUPED.fullmatch(cleaned)):
        raise Refusal(
            "not-a-number",
            f"A number is expected; found {echo(text)}.",
            field,
            "Write digits with at most one decimal point or comma, for example 0.55.",
        )
    for space in _SPACES:
        cleaned = cleaned.replace(space, "")
    value = float(cleaned.replace(",", "."))
    if not math.isfinite(value):
        raise Refusal("too-large", f"{echo(text)} is too large to be meant.", field, "Check the number.")
    return value


def parse_in(text: str, unit: str, field: str = "", *, decimal: str | None = None) -> float:
    """Return the quantity written in `text` in `unit`; a text without a unit is taken to be in `unit`.

    Raises the refusals of `parse_number`, and `unknown-unit`, `ambiguous-unit`, `wrong-unit` (naming what is
    allowed), `too-low` below absolute zero.

    >>> parse_in("38 °C", "°C"), parse_in("100.4 F", "°C"), parse_in("0,135 L", "mL")
    (38.0, 38.0, 135.0)
    """
    number, name = _split(_cleaned(text, field))
    expected = find_unit(unit)
    given = _unit_of(name, expected, field) if name else expected
    value = parse_number(number, field, decimal=decimal)
    _refuse_colder_than_possible(value, given, field)
    converted = convert(value, given.symbol, expected.symbol)
    return converted if given is expected else float(f"{converted:.13g}")


def parse_quantity(text: str, unit_expected: str, field: str = "", *, decimal: str | None = None) -> float:
    """Return the quantity written in `text` in SI; a text without a unit is taken to be in `unit_expected`.

    Any unit of the same kind is understood. Raises what `parse_in` raises.

    >>> parse_quantity("95 s", "s"), parse_quantity("5", "min"), parse_quantity("0.55 %", "%")
    (95.0, 300.0, 0.0055000000000000005)
    """
    return to_si(parse_in(text, unit_expected, field, decimal=decimal), unit_expected)


def echo(text: str) -> str:
    """Return `text` in quotes, cut to 20 characters, with anything unprintable shown as a dot.

    >>> echo("abc\\u202edef")
    "'abc·def'"
    """
    shown = "".join(c if c.isprintable() else "·" for c in text[:20])
    return f"'{shown}…'" if len(text) > 20 else f"'{shown}'"


def _cleaned(text: str, field: str) -> str:
    if len(text) > LONGEST:
        raise Refusal(
            "too-long",
            f"{len(text)} characters are too many for a number; it begins {echo(text)}.",
            field,
            f"Write at most {LONGEST} characters.",
        )
    cleaned = text.translate(_MINUS).strip()
    if not cleaned:
        raise Refusal("empty", "A number is expected; nothing was written.", field, "Write the number.")
    return cleaned


def _refuse_ambiguous(cleaned: str, field: str, decimal: str | None) -> None:
    several = sum(cleaned.count(sign) for sign in ".,") > 1 and not re.search(r"[^0-9.,+\-\s]", cleaned)
    lone = decimal != "," and _THOUSANDS_OR_DECIMAL.fullmatch(cleaned)
    foreign = decimal == "," and "." in cleaned
    if several or lone or foreign:
        raise Refusal(
            "ambiguous-number",
            f"{echo(cleaned)} can be read in more than one way.",
            field,
            "Write one decimal sign at most and no thousands sign: 1234.5 or 1234,5; 1.234 for a little over one.",
        )


def _split(cleaned: str) -> tuple[str, str]:
    match = _SPLIT.fullmatch(cleaned)
    if match is None or not re.search(r"[0-9]", match[1]):
        return cleaned, ""
    return match[1].strip(), match[2].strip()


def _unit_of(name: str, expected: Unit, field: str) -> Unit:
    allowed = ", ".join(symbols(expected.dimension))
    try:
        given = find_unit(name, field)
    except Refusal as refusal:
        if refusal.code == "ambiguous-unit":
            raise
        raise Refusal(
            "unknown-unit", f"There is no unit {echo(name)} here.", field, f"Allowed: {allowed}."
        ) from None
    if given.dimension != expected.dimension:
        raise Refusal(
            "wrong-unit",
            f"{given.symbol} measures {given.dimension}; a {expected.dimension} is expected.",
            field,
            f"Allowed: {allowed}.",
        )
    return given


def _refuse_colder_than_possible(value: float, unit: Unit, field: str) -> None:
    if unit.dimension == "temperature" and value * unit.scale + unit.offset < 0:
        raise Refusal(
            "too-low",
            f"{value:g} {unit.symbol} is below absolute zero.",
            field,
            f"A temperature lies above {ABSOLUTE_ZERO_C} °C.",
        )
