"""Dry and moist air: density, viscosity, the vapour it can carry, wet bulb and dew point.

Below 0 °C moisture deposits as ice: saturation, dew point and relative humidity are then taken over ice. A dew
point of -40 °C read with the liquid formula would claim half as much water again as there is.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from lumenward.hydraulics import water
from lumenward.quantities import Refusal

KELVIN = 273.15
STANDARD_PA = 101_325.0
GAS_CONSTANT = 287.05
MASS_RATIO = 0.621945
HEAT_RATIO = 1.4
COLDEST_C = -100.0
TRIPLE_C = 0.01

_TRIPLE_K, _TRIPLE_PA = 273.16, 611.657
_ICE = ((-0.212144006e2, 0.333333333e-2), (0.273203819e2, 0.120666667e1), (-0.610598130e1, 0.170333333e1))


def density(temperature_c: float, pressure_pa: float = STANDARD_PA) -> float:
    """Return the density of dry air as an ideal gas, kg/m3 (within 0.1 % near 1 bar).

    >>> round(density(20.0), 4)
    1.2041
    """
    return pressure_pa / (GAS_CONSTANT * (temperature_c + KELVIN))


def viscosity(temperature_c: float) -> float:
    """Return the viscosity of air in Pa s by Sutherland's law (within 0.6 % from 0 to 100 °C; recalled).

    >>> round(viscosity(20.0) * 1e6, 2)
    18.13
    """
    kelvin = temperature_c + KELVIN
    return 1.716e-5 * math.pow(kelvin / KELVIN, 1.5) * (KELVIN + 110.4) / (kelvin + 110.4)


def saturation_over_ice(temperature_c: float) -> float:
    """Return the vapour pressure over ice in Pa, from -100 to 0.01 °C.

    Source: IAPWS R14-08(2011), sublimation pressure (recalled, compared with its own library).

    >>> round(saturation_over_ice(-43.15), 5)
    8.94735
    """
    share = (temperature_c + KELVIN) / _TRIPLE_K
    total = math.fsum(factor * share**power for factor, power in _ICE)
    return _TRIPLE_PA * math.exp(total / share)


def saturation(temperature_c: float) -> float:
    """Return the vapour pressure in Pa over water, or over ice up to 0.01 °C; from -100 to below 100 °C.

    >>> round(saturation(20.0))
    2339
    """
    if not COLDEST_C <= temperature_c < 100.0:
        raise Refusal(
            "out-of-range",
            f"Moist air is known here from -100 to 100 °C; found {temperature_c:g} °C.",
            "temperature_c",
            "",
        )
    frozen = temperature_c <= TRIPLE_C
    return saturation_over_ice(temperature_c) if frozen else water.saturation_pressure(temperature_c)


def humidity_ratio(vapour_pa: float, pressure_pa: float) -> float:
    """Return kg of vapour per kg of dry air: 0.621945 pv / (p - pv).

    >>> round(humidity_ratio(2339.3, 101325), 5)
    0.0147
    """
    if not 0.0 <= vapour_pa < pressure_pa:
        raise Refusal(
            "out-of-range",
            f"A vapour pressure of {vapour_pa:g} Pa does not fit into air at {pressure_pa:g} Pa.",
            "pressure_pa",
            "Pressures are absolute.",
        )
    return MASS_RATIO * vapour_pa / (pressure_pa - vapour_pa)


def vapour_pressure(ratio: float, pressure_pa: float) -> float:
    """Return the vapour pressure in Pa of air with that humidity ratio.

    >>> round(vapour_pressure(0.0147, 101325), 0)
    2340.0
    """
    return pressure_pa * ratio / (MASS_RATIO + ratio)


def saturated_ratio(temperature_c: float, pressure_pa: float = STANDARD_PA) -> float:
    """Return the humidity ratio of saturated air (ideal: 0.45 % below real air near 1 bar).

    >>> round(saturated_ratio(25.0), 4)
    0.0201
    """
    return humidity_ratio(saturation(temperature_c), pressure_pa)


def ratio_from_dew_point(dew_point_c: float, pressure_pa: float = STANDARD_PA) -> float:
    """Return the humidity ratio of air with that dew point; over ice below 0 °C.

    >>> round(ratio_from_dew_point(-40.0) * 1e5, 1)
    7.9
    """
    return saturated_ratio(dew_point_c, pressure_pa)


def dew_point(ratio: float, pressure_pa: float = STANDARD_PA) -> float | None:
    """Return the dew point in °C (over ice below 0 °C); None for air with no vapour, or below -100 °C.

    >>> round(dew_point(saturated_ratio(12.0)), 6)
    12.0
    """
    vapour = vapour_pressure(ratio, pressure_pa)
    if vapour < saturation(COLDEST_C):
        return None
    return _root(lambda t: saturation(t) - vapour, COLDEST_C, 100.0)


def wet_bulb(temperature_c: float, ratio: float, pressure_pa: float = STANDARD_PA) -> float:
    """Return the temperature that evaporating water (or ice) settles at in that air, °C.

    Adiabatic saturation with the enthalpies of ASHRAE Fundamentals chapter 1 (recalled). The wick is ice below
    0 °C. Takes `ratio` up to saturation at `temperature_c`.

    >>> round(wet_bulb(20.0, 0.0), 2)
    5.84
    """

    def excess(t: float) -> float:
        return _ratio_for_wet_bulb(temperature_c, t, pressure_pa) - ratio

    return temperature_c if excess(temperature_c) <= 0.0 else _root(excess, COLDEST_C, temperature_c)


def _ratio_for_wet_bulb(temperature_c: float, bulb_c: float, pressure_pa: float) -> float:
    full = saturated_ratio(bulb_c, pressure_pa)
    if bulb_c < 0.0:
        latent, floor = 2830.0 - 0.24 * bulb_c, 2830.0 + 1.86 * temperature_c - 2.1 * bulb_c
    else:
        latent, floor = 2501.0 - 2.326 * bulb_c, 2501.0 + 1.86 * temperature_c - 4.186 * bulb_c
    return (latent * full - 1.006 * (temperature_c - bulb_c)) / floor


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if rising(middle) > 0.0 else (middle, high)
    return 0.5 * (low + high)
