"""The water an air purge leaves on the wall of a channel: a law for slow slugs, and a range for real purges."""

from __future__ import annotations

import math

from lumenward.quantities import Refusal

CAPILLARY_LIMIT = 2.0
WATER_CAPILLARY_LIMIT = 4.2e-4
WEBER_LIMIT = 0.03
REYNOLDS_LIMIT = 1.0
ASSUMED_BORE_M = 0.0042
PURGE_RANGE = (0.05, 0.35)


def capillary_number(velocity_m_s: float, viscosity_pa_s: float, surface_tension_n_m: float) -> float:
    """Return Ca = mu U / sigma; refuses figures that are not above zero.

    >>> round(capillary_number(1.0, 0.0010016, 0.072736), 5)
    0.01377
    """
    for value, field in (
        (velocity_m_s, "velocity_m_s"),
        (viscosity_pa_s, "viscosity_pa_s"),
        (surface_tension_n_m, "surface_tension_n_m"),
    ):
        _above_zero(value, field)
    return viscosity_pa_s * velocity_m_s / surface_tension_n_m


def thickness_over_radius(capillary: float) -> float:
    """Return film thickness over radius, 1.34 Ca^(2/3) / (1 + 3.35 Ca^(2/3)).

    Fit to slugs pushed slowly through a wetted tube, Ca up to about 2, no inertia, no gravity. Source: Aussillous
    and Quere, Physics of Fluids 12 (2000) 2367 (recalled).

    >>> round(thickness_over_radius(0.01377), 4)
    0.0646
    """
    _above_zero(capillary, "capillary_number")
    power = capillary ** (2.0 / 3.0)
    return 1.34 * power / (1.0 + 3.35 * power) if math.isfinite(power) else 0.4


def left_fraction(thickness: float) -> float:
    """Return the share of the bore's volume in a wall film of that thickness over radius: 1 - (1 - h/R)^2.

    >>> round(left_fraction(0.0646), 3)
    0.125
    """
    return thickness * (2.0 - thickness)


def holds_for_water(capillary: float) -> bool:
    """Return whether the fit holds for a water-like liquid in an endoscope channel, from Ca alone.

    Above 0.03 m/s of water, Ca 0.00042, inertia changes the film (de Ryck 2002, abstract).

    >>> holds_for_water(1e-4), holds_for_water(0.0138)
    (True, False)
    """
    return 0.0 < capillary <= WATER_CAPILLARY_LIMIT


def holds(
    velocity_m_s: float,
    viscosity_pa_s: float,
    surface_tension_n_m: float,
    bore_m: float = ASSUMED_BORE_M,
    density_kg_m3: float = 1000.0,
) -> bool:
    """Return whether viscosity and surface tension alone make the film, as the fit supposes.

    Inertia is taken as negligible up to a Weber number of 0.03 (0.03 m/s of water in a wide channel) or a
    Reynolds number of 1. Without a bore the widest channel is assumed, which is the stricter choice.

    >>> holds(0.01, 0.001, 0.0727), holds(1.0, 0.001, 0.0727)
    (True, False)
    """
    capillary = capillary_number(velocity_m_s, viscosity_pa_s, surface_tension_n_m)
    radius = bore_m / 2.0
    weber = density_kg_m3 * velocity_m_s * velocity_m_s * radius / surface_tension_n_m
    reynolds = density_kg_m3 * velocity_m_s * radius / viscosity_pa_s
    return capillary <= CAPILLARY_LIMIT and (weber <= WEBER_LIMIT or reynolds <= REYNOLDS_LIMIT)


def _above_zero(value: float, field: str) -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise Refusal(
            "too-low", f"{field} must be above zero; found {value:g}.", field, "Give a figure above zero."
        )
