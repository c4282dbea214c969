"""Pressure decay of a closed endoscope, and the smallest leak that this gauge can see in this time."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lumenward.quantities import Refusal

KELVIN = 273.15
STANDARD_PA = 101_325.0
DETECTION_FACTOR = 3.29


@dataclass(frozen=True)
class Decay:
    """One hold: SI throughout, absolute pressures, temperatures of the gas inside in kelvin."""

    volume_m3: float
    start_pa: float
    end_pa: float
    start_k: float
    end_k: float
    duration_s: float

    def __post_init__(self) -> None:
        for field, value in vars(self).items():
            if not (math.isfinite(value) and value > 0.0):
                raise Refusal("too-low", f"{field} must be above zero; found {value:g}.", field, "")


def leak_rate(decay: Decay) -> float:
    """Return V/dt (p1 - p2 T1/T2) in Pa m3/s at the start temperature; below zero when pressure rose.

    >>> round(leak_rate(Decay(0.35e-3, 126e3, 125e3, 293.15, 293.15, 60)), 6)
    0.005833
    """
    referred = decay.end_pa * decay.start_k / decay.end_k
    return decay.volume_m3 / decay.duration_s * (decay.start_pa - referred)


def rate_uncertainty(decay: Decay, pressure_u_pa: float, temperature_u_k: float) -> float:
    """Return the standard uncertainty of `leak_rate`, Pa m3/s, from those of one reading of each kind.

    V/dt sqrt(2 u_p^2 + 2 (p u_T / T)^2) with start pressure and temperature; the volume's own doubt is left out.

    >>> decay = Decay(0.35e-3, 126e3, 126e3, 293.15, 293.15, 30)
    >>> round(rate_uncertainty(decay, 1000 / 12**0.5, 0.2), 5)
    0.00497
    """
    for value, field in ((pressure_u_pa, "pressure_u_pa"), (temperature_u_k, "temperature_u_k")):
        if not (math.isfinite(value) and value >= 0.0):
            raise Refusal("too-low", f"{field} must be zero or more; found {value:g}.", field, "")
    thermal = decay.start_pa * temperature_u_k / decay.start_k
    return decay.volume_m3 / decay.duration_s * math.sqrt(2.0) * math.hypot(pressure_u_pa, thermal)


def detection_limit(uncertainty_pa_m3_s: float) -> float:
    """Return 3.29 u: with 5 % false alarms, a leak this large is missed in 5 % of tests.

    >>> detection_limit(1.0)
    3.29
    """
    return DETECTION_FACTOR * uncertainty_pa_m3_s


def hold_to_see(wanted_pa_m3_s: float, decay: Decay, pressure_u_pa: float, temperature_u_k: float) -> float:
    """Return the hold in seconds after which a leak of the wanted size reaches the detection limit.

    >>> decay = Decay(0.35e-3, 126e3, 126e3, 293.15, 293.15, 30)
    >>> round(hold_to_see(1 / 592.15, decay, 1000 / 12**0.5, 0.2))
    290
    """
    if not wanted_pa_m3_s > 0.0:
        raise Refusal("too-low", f"A wanted leak must be above zero; found {wanted_pa_m3_s:g}.", "wanted", "")
    return (
        detection_limit(rate_uncertainty(decay, pressure_u_pa, temperature_u_k))
        * decay.duration_s
        / wanted_pa_m3_s
    )


def as_ml_min(rate_pa_m3_s: float) -> float:
    """Return the leak as mL/min of gas at its own temperature and 101325 Pa.

    >>> round(as_ml_min(1.0), 2)
    592.15
    """
    return rate_pa_m3_s * 60e6 / STANDARD_PA


def as_sccm(rate_pa_m3_s: float, gas_k: float) -> float:
    """Return the leak as standard mL/min at 0 °C and 101325 Pa, of gas that is at `gas_k`.

    >>> round(as_sccm(0.35e-3 / 60 * 1000, 293.15), 3)
    3.219
    """
    return as_ml_min(rate_pa_m3_s) * KELVIN / gas_k


def warming_pa(start_pa: float, start_k: float, kelvin: float) -> float:
    """Return the rise of pressure that warming alone makes, in Pa.

    >>> round(warming_pa(126e3, 293.15, 1.0))
    430
    """
    return start_pa * kelvin / start_k
