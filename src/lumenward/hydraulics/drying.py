"""How much water compressed air can carry out of a channel, and between which bounds the channel is dry.

The air leaves saturated, so its mass decides. What is not known is the temperature at which it saturates: that
of the room, if the wall keeps supplying heat, or the wet bulb of the air, if it supplies none. The two give the
bounds. A film on the wall is also dragged along; water trapped in a branch is only carried off as vapour.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lumenward.hydraulics import air, water
from lumenward.hydraulics.gas_flow import GasFlow, Passage, isothermal
from lumenward.quantities import Refusal

FLOOR_S = 600.0
DRY_M3 = 1e-10
LAMINAR_SHERWOOD = 3.66
LAMINAR_REYNOLDS = 2300.0


@dataclass(frozen=True)
class DryingAir:
    """Air at the channel's inlet: pressure above the room's, temperature, dew point once let out to the room."""

    gauge_pa: float
    temperature_c: float
    dew_point_c: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.gauge_pa) and self.gauge_pa > 0.0):
            raise Refusal(
                "too-low",
                f"The air pressure must be above the room's; found {self.gauge_pa:g} Pa gauge.",
                "air.gauge_pa",
                "Give the pressure set at the regulator, in Pa.",
            )
        if self.dew_point_c >= self.temperature_c:
            raise Refusal(
                "saturated",
                f"Air of {self.temperature_c:g} °C with a dew point of {self.dew_point_c:g} °C carries no water off.",
                "air.dew_point_c",
                "The dew point lies below the temperature; dry instrument air is near -40 °C.",
            )


@dataclass(frozen=True)
class Bounds:
    """Two ends between which the truth is supposed to lie."""

    low: float
    high: float


def air_flow(supply: DryingAir, passage: Passage) -> GasFlow:
    """Return the air flow from the gauge pressure to the room at 101325 Pa.

    >>> air_flow(DryingAir(100e3, 20.0, -40.0), Passage(0.0028, 2.7)).choked
    False
    """
    return isothermal(air.STANDARD_PA + supply.gauge_pa, air.STANDARD_PA, supply.temperature_c, passage)


def evaporation(supply: DryingAir, passage: Passage) -> Bounds:
    """Return the liquid carried off as vapour, m3/s: without heat from the wall, and with all the heat it takes.

    >>> rate = evaporation(DryingAir(100e3, 20.0, -40.0), Passage(0.0028, 2.7, minor_loss=1.5))
    >>> round(rate.low * 600e6, 1), round(rate.high * 600e6, 1)
    (2.3, 5.9)
    """
    flow = air_flow(supply, passage)
    entering = air.ratio_from_dew_point(supply.dew_point_c)
    bulb = air.wet_bulb(supply.temperature_c, entering)
    share = saturation_share(flow, supply.temperature_c, passage)
    carried = [
        flow.mass_flow_kg_s * (air.saturated_ratio(at) - entering) * share
        for at in (bulb, supply.temperature_c)
    ]
    liquid = water.density(supply.temperature_c)
    return Bounds(max(carried[0], 0.0) / liquid, max(carried[1], 0.0) / liquid)


def saturation_share(flow: GasFlow, temperature_c: float, passage: Passage) -> float:
    """Return how near to saturation the air leaves a wet channel: 1 - exp(-NTU); practically 1 in endoscopes.

    Sherwood 3.66 laminar, Gnielinski turbulent (recalled); vapour diffusivity 2.5e-5 m2/s at 25 °C (recalled).

    >>> passage = Passage(0.0028, 2.7)
    >>> saturation_share(air_flow(DryingAir(100e3, 20.0, -40.0), passage), 20.0, passage) > 0.99
    True
    """
    diffusivity = 2.5e-5 * ((temperature_c + air.KELVIN) / 298.15) ** 1.75
    density = air.density(temperature_c)
    schmidt = air.viscosity(temperature_c) / density / diffusivity
    sherwood = _sherwood(flow.reynolds, flow.friction_factor, schmidt)
    coefficient = sherwood * diffusivity / passage.hydraulic_diameter_m
    return -math.expm1(-coefficient * passage.wetted_m2 * density / flow.mass_flow_kg_s)


def film_time(evaporation_m3_s: float, supply: DryingAir, passage: Passage, film_fraction: float) -> float:
    """Return seconds until a wall film of that share of the bore is down to 0.1 microlitre.

    Shear drags the film (mean thickness mu L/(2 tau t), lubrication, own derivation) while the air evaporates it:
    dV/dt = -a V^2 - e, solved in closed form.

    >>> round(film_time(1e-9, DryingAir(100e3, 20.0, -40.0), Passage(0.0012, 2.7), 0.2))
    53
    """
    drag = _drag(supply, passage)
    start = film_fraction * passage.volume_m3
    if start <= DRY_M3:
        return 0.0
    scale = math.sqrt(drag / evaporation_m3_s)
    return (math.atan(start * scale) - math.atan(DRY_M3 * scale)) / math.sqrt(drag * evaporation_m3_s)


def film_left(
    seconds: float, evaporation_m3_s: float, supply: DryingAir, passage: Passage, film_fraction: float
) -> float:
    """Return the film still on the wall after some seconds, m3.

    >>> supply, passage = DryingAir(100e3, 20.0, -40.0), Passage(0.0012, 2.7)
    >>> film_left(53.3, 1e-9, supply, passage, 0.2) < 2e-10
    True
    """
    drag = _drag(supply, passage)
    scale = math.sqrt(drag / evaporation_m3_s)
    angle = math.atan(film_fraction * passage.volume_m3 * scale) - seconds * math.sqrt(
        drag * evaporation_m3_s
    )
    return math.tan(angle) / scale if angle > 0.0 else 0.0


def drying_time(
    supply: DryingAir, passage: Passage, film_fraction: tuple[float, float], trapped_m3: float = 0.0
) -> Bounds:
    """Return least and greatest seconds to dry: film of the least and greatest share, then the trapped water.

    >>> bounds = drying_time(DryingAir(100e3, 20.0, -40.0), Passage(0.0012, 2.7, minor_loss=1.5), (0.2, 0.2))
    >>> round(bounds.low), round(bounds.high)
    (53, 86)
    """
    rate = evaporation(supply, passage)
    quick = film_time(rate.high, supply, passage, film_fraction[0]) + trapped_m3 / rate.high
    slow = film_time(rate.low, supply, passage, film_fraction[1]) + trapped_m3 / rate.low
    return Bounds(quick, slow)


def against_floor(bounds: Bounds, floor_s: float = FLOOR_S) -> tuple[float, str]:
    """Return the seconds to plan, never below the floor, and one sentence that compares the two.

    >>> against_floor(Bounds(53.0, 87.0))[0]
    600.0
    """
    floor = f"{floor_s / 60:g} min"
    if bounds.high <= floor_s:
        words = f"The floor of {floor} covers this estimate; a computed time never shortens it."
    elif bounds.low <= floor_s:
        words = f"{floor} may not be enough for this channel: the upper bound is {bounds.high / 60:.0f} min."
    else:
        words = f"{floor} is not enough for this channel: even the lower bound is {bounds.low / 60:.0f} min."
    return max(floor_s, bounds.high), words


def _drag(supply: DryingAir, passage: Passage) -> float:
    shear = supply.gauge_pa * passage.hydraulic_diameter_m / (4.0 * passage.length_m)
    return 2.0 * shear / (water.viscosity(supply.temperature_c) * passage.length_m * passage.wetted_m2)


def _sherwood(reynolds: float, darcy: float, schmidt: float) -> float:
    if reynolds < LAMINAR_REYNOLDS:
        return LAMINAR_SHERWOOD
    eighth = darcy / 8.0
    turbulent = eighth * (reynolds - 1000.0) * schmidt
    return turbulent / (1.0 + 12.7 * math.sqrt(eighth) * (math.pow(schmidt, 2.0 / 3.0) - 1.0))
