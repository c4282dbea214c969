"""Properties of liquid water at about one atmosphere, from freezing to just below boiling."""

from __future__ import annotations

import math

from lumenward.quantities import Refusal

LOWEST_C = 0.0
HIGHEST_C = 100.0
_CRITICAL_K = 647.096
_CRITICAL_PA = 22.064e6
_KELL = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
_VISCOSITY = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
_WAGNER = (
    (-7.85951783, 1.0), (1.84408259, 1.5), (-11.7866497, 3.0), (22.6807411, 3.5), (-15.9618719, 4.0),
    (1.80122502, 7.5),
)  # fmt: skip


def density(temperature_c: float) -> float:
    """Return the density of air-free water, kg/m3.

    Kell's quotient of polynomials. `temperature_c` in degrees Celsius, from 0 to below 100; outside Refusal
    `too-cold` or `too-hot`. Within 0.02 of the reference equation of state. Source: Kell 1975,
    J. Chem. Eng. Data 20:97 (recalled).

    >>> round(density(20.0), 1)
    998.2
    """
    t = checked_temperature(temperature_c)
    return sum(a * t**n for n, a in enumerate(_KELL)) / (1 + 16.879850e-3 * t)


def viscosity(temperature_c: float) -> float:
    """Return the dynamic viscosity at 0.1 MPa, Pa s.

    The four-term formula of the 2008 release, mu = 1e-6 sum a_i (T/300 K)^b_i. `temperature_c` from 0 to
    below 100; outside Refusal `too-cold` or `too-hot`. Source: IAPWS 2008, supplementary release (recalled).

    >>> round(viscosity(20.0) * 1e3, 4)
    1.0016
    """
    reduced = (checked_temperature(temperature_c) + 273.15) / 300.0
    return 1e-6 * math.fsum(a * reduced**b for a, b in _VISCOSITY)


def surface_tension(temperature_c: float) -> float:
    """Return the surface tension of pure water against air, N/m; a detergent lowers it a lot.

    sigma = 0.2358 tau^1.256 (1 - 0.625 tau), tau = 1 - T/Tc. `temperature_c` from 0 to below 100; outside
    Refusal `too-cold` or `too-hot`. Source: IAPWS release R1-76(2014) (recalled).

    >>> round(surface_tension(20.0) * 1e3, 2)
    72.74
    """
    tau = 1 - (checked_temperature(temperature_c) + 273.15) / _CRITICAL_K
    return float(0.2358 * tau**1.256 * (1 - 0.625 * tau))


def saturation_pressure(temperature_c: float) -> float:
    """Return the saturation pressure over liquid water, Pa (absolute).

    ln(p/pc) = Tc/T sum a_i tau^b_i. `temperature_c` from 0 to below 100; outside Refusal `too-cold` or
    `too-hot`. Source: Wagner and Pruss 1993, J. Phys. Chem. Ref. Data 22:783 (recalled).

    >>> round(saturation_pressure(20.0), 0)
    2339.0
    """
    kelvin = checked_temperature(temperature_c) + 273.15
    tau = 1 - kelvin / _CRITICAL_K
    return _CRITICAL_PA * math.exp(_CRITICAL_K / kelvin * math.fsum(a * tau**b for a, b in _WAGNER))


def checked_temperature(temperature_c: float, field: str = "temperature_c") -> float:
    """Return `temperature_c` if water is liquid there (0 <= t < 100 C); otherwise raise a Refusal.

    >>> checked_temperature(35.0)
    35.0
    """
    if not math.isfinite(temperature_c):
        raise Refusal("not-finite", f"A temperature must be a number; found {temperature_c}.", field, "")
    if temperature_c < LOWEST_C:
        raise Refusal(
            "too-cold",
            f"Water is not liquid at {temperature_c:g} C; 0 C at least is needed.",
            field,
            "Give the temperature of the water in degrees Celsius, between 0 and 100.",
        )
    if temperature_c >= HIGHEST_C:
        raise Refusal(
            "too-hot",
            f"Water boils before {temperature_c:g} C; below 100 C is needed.",
            field,
            _hot_hint(temperature_c),
        )
    return temperature_c


def _hot_hint(temperature_c: float) -> str:
    if 273.15 < temperature_c < 373.15:
        return f"If this is in kelvin, did you mean {temperature_c - 273.15:.4g}?"
    celsius = (temperature_c - 32) / 1.8
    if celsius < HIGHEST_C:
        return f"If this is in degrees Fahrenheit, did you mean {celsius:.4g}?"
    return "Give the temperature of the water in degrees Celsius, between 0 and 100."
