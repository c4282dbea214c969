"""Units of the trade against published arithmetic and against pint in the same run."""

from __future__ import annotations

import pint
import pytest

from lumenward.evidence import Check
from lumenward.quantities import convert, to_si

_PINT = pint.UnitRegistry()
_HARDNESS = "arithmetic of molar masses and gallons (CaCO3 100.09, CaO 56.08 g/mol)"


def _against_pint(value: float, ours: str, theirs: str) -> Check:
    expected = (value * _PINT.parse_expression(theirs)).to_base_units().magnitude
    return Check(
        "units", f"{value:g} {ours} in SI", expected, lambda: to_si(value, ours), 1e-9, "pint", "computed by pint 0.25",
        relative=True,
    )  # fmt: skip


def _converted(value: float, unit: str, wanted: str, expected: float, tolerance: float, source: str) -> Check:
    name = f"{value:g} {unit} in {wanted}"
    return Check(
        "units", name, expected, lambda: convert(value, unit, wanted), tolerance, source, "closed form"
    )


CHECKS = [
    _converted(160, "mmHg", "kPa", 21.33, 0.005, "1 mmHg = 0.133322 kPa"),
    _converted(200, "mmHg", "kPa", 26.66, 0.005, "1 mmHg = 0.133322 kPa"),
    _converted(24.5, "kPa", "mmHg", 184, 0.5, "1 mmHg = 0.133322 kPa"),
    _converted(24.5, "kPa", "psi", 3.55, 0.005, "1 psi = 6.894757 kPa"),
    _converted(1, "US fl oz/US gal", "mL/L", 7.8125, 1e-9, "128 US fluid ounces in a US gallon"),
    _converted(1, "imp fl oz/imp gal", "mL/L", 6.25, 1e-9, "160 imperial fluid ounces in an imperial gallon"),
    _converted(1, "gpg", "mg/L CaCO3", 17.1, 0.05, _HARDNESS),
    _converted(1, "°dH", "mg/L CaCO3", 17.85, 0.005, _HARDNESS),
    _converted(1, "°fH", "mg/L CaCO3", 10, 1e-9, _HARDNESS),
    _converted(1, "°Clark", "mg/L CaCO3", 14.25, 0.005, _HARDNESS),
    _converted(1, "mmol/L", "mg/L CaCO3", 100.1, 0.05, _HARDNESS),
    _converted(0.55, "%", "ppm", 5500, 1e-9, "definition"),
    _against_pint(160, "mmHg", "mmHg"),
    _against_pint(3.55, "psi", "psi"),
    _against_pint(2.5, "US gal", "gallon"),
    _against_pint(2.5, "imp gal", "imperial_gallon"),
    _against_pint(6, "imp fl oz", "imperial_fluid_ounce"),
    _against_pint(7, "gpg", "grain/gallon"),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_units_agree_with_the_world_outside(check: Check) -> None:
    check.assert_holds()
