"""Units: every factor against pint, every spelling by hand."""

from __future__ import annotations

import pint
import pytest

from lumenward.quantities import UNITS, Refusal, convert, find_unit, from_si, to_si

REGISTRY = pint.UnitRegistry()
PINT_NAMES = {
    "s": "second", "min": "minute", "h": "hour", "d": "day",
    "mL": "milliliter", "L": "liter", "m3": "meter**3", "US fl oz": "fluid_ounce", "imp fl oz": "imperial_fluid_ounce",
    "US gal": "gallon", "imp gal": "imperial_gallon",
    "mm": "millimeter", "cm": "centimeter", "m": "meter", "µm": "micrometer", "Fr": "millimeter/3", "in": "inch",
    "Pa": "pascal", "kPa": "kilopascal", "MPa": "megapascal", "mbar": "millibar", "bar": "bar", "mmHg": "mmHg",
    "psi": "psi", "°C": "degC", "°F": "degF", "K": "kelvin", "ppm": "ppm", "%": "percent", "mL/L": "milliliter/liter",
    "US fl oz/US gal": "fluid_ounce/gallon", "imp fl oz/imp gal": "imperial_fluid_ounce/imperial_gallon",
    "mL/min": "milliliter/minute", "L/min": "liter/minute", "mL/s": "milliliter/second", "m3/s": "meter**3/second",
    "mg/L CaCO3": "milligram/liter", "gpg": "grain/gallon", "°Clark": "grain/imperial_gallon",
    "°fH": "centigram/liter", "mmol/L": "100.0869*milligram/liter", "°dH": "10*100.0869/56.0774*milligram/liter",
    "µS/cm": "microsiemens/centimeter", "mS/cm": "millisiemens/centimeter", "g": "gram", "mg": "milligram",
    "kg": "kilogram",
}  # fmt: skip


@pytest.mark.parametrize("symbol", list(UNITS))
def test_every_unit_agrees_with_pint(symbol: str) -> None:
    theirs = pint.Quantity(37.0, REGISTRY.parse_units(PINT_NAMES[symbol])) if symbol in ("°C", "°F") else None
    expected = (
        theirs.to_base_units().magnitude
        if theirs is not None
        else (37.0 * REGISTRY.parse_expression(PINT_NAMES[symbol])).to_base_units().magnitude
    )
    if UNITS[symbol].dimension == "conductivity":
        expected = (37.0 * REGISTRY.parse_expression(PINT_NAMES[symbol])).to("siemens/meter").magnitude
    assert to_si(37.0, symbol) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("symbol", list(UNITS))
def test_from_si_undoes_to_si(symbol: str) -> None:
    assert from_si(to_si(12.5, symbol), symbol) == pytest.approx(12.5, rel=1e-12)


def test_no_spelling_means_two_units() -> None:
    spellings = [name for unit in UNITS.values() for name in (unit.symbol, *unit.aliases)]
    assert len(spellings) == len(set(spellings))


def test_a_milli_is_never_read_as_a_mega() -> None:
    assert find_unit("MPa").scale == 1e6
    with pytest.raises(Refusal, match="no unit"):
        find_unit("mPa")


@pytest.mark.parametrize("word", ["oz", "fl oz", "gal", "Gallon", "oz/gal"])
def test_a_word_that_differs_between_countries_is_refused(word: str) -> None:
    with pytest.raises(Refusal) as caught:
        find_unit(word)
    assert caught.value.code == "ambiguous-unit"
    assert "US" in caught.value.hint
    assert "imp" in caught.value.hint


def test_converting_between_kinds_is_refused_naming_what_is_allowed() -> None:
    with pytest.raises(Refusal) as caught:
        convert(1, "kPa", "mL")
    assert caught.value.code == "wrong-unit"
    assert "mL, L" in caught.value.hint
