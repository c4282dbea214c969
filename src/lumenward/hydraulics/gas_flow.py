"""Compressed air through one long narrow channel: isothermal flow with friction, minor losses and choking."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from lumenward.hydraulics import air
from lumenward.hydraulics.annulus import laminar_f_re
from lumenward.hydraulics.bounds import between, temperature
from lumenward.hydraulics.friction import Curve, prepare
from lumenward.hydraulics.network import SMOOTH_TUBE_M, check_bore, check_length, check_wire
from lumenward.quantities import Refusal

# Covers every Reynolds number without a seam; nobody knows the friction between 2000 and 4000 better than 10 %.
FRICTION_LAW = "churchill"


@dataclass(frozen=True)
class Passage:
    """A round bore, or the ring between a bore and a wire inside; metres."""

    bore_m: float
    length_m: float
    wire_m: float = 0.0
    minor_loss: float = 0.0
    roughness_m: float = SMOOTH_TUBE_M

    def __post_init__(self) -> None:
        """Refuse what is no tube, naming the field."""
        check_bore(self.bore_m, "bore_m")
        check_length(self.length_m, "length_m")
        check_wire(self.wire_m, self.bore_m, "wire_m")
        if not 0.0 <= self.minor_loss <= 1e9:
            raise Refusal(
                "out-of-range",
                f"A minor loss lies between 0 and 1e9; found {self.minor_loss:g}.",
                "minor_loss",
                "Usual values lie between 0 and 10.",
            )

    @property
    def area_m2(self) -> float:
        """Return the cross-section open to flow, m2."""
        return math.pi / 4.0 * (self.bore_m**2 - self.wire_m**2)

    @property
    def hydraulic_diameter_m(self) -> float:
        """Return bore less wire, m."""
        return self.bore_m - self.wire_m

    @property
    def wetted_m2(self) -> float:
        """Return the surface of wall and wire, m2."""
        return math.pi * (self.bore_m + self.wire_m) * self.length_m

    @property
    def volume_m3(self) -> float:
        """Return the volume the channel holds, m3."""
        return self.area_m2 * self.length_m


@dataclass(frozen=True)
class GasFlow:
    """Mass flow, the state at the outlet and whether the outlet is choked."""

    mass_flow_kg_s: float
    outlet_pa: float
    mach_outlet: float
    choked: bool
    reynolds: float
    friction_factor: float


def isothermal(
    inlet_pa: float, outlet_pa: float, temperature_c: float, passage: Passage, darcy: float | None = None
) -> GasFlow:
    """Return the flow of dry air between two absolute pressures at one temperature.

    p1^2 - p2^2 = G^2 Rs T (f L/Dh + K + 2 ln(p1/p2)). The outlet chokes where its Mach number reaches
    1/sqrt(1.4); a lower pressure outside changes nothing then. Without `darcy` the friction factor follows from
    the Reynolds number, constant along an isothermal tube. Refuses an inlet below the outlet.

    >>> flow = isothermal(200e3, 100e3, 20.0, Passage(0.0028, 2.7), 0.0279967)
    >>> round(flow.mass_flow_kg_s * 1e4, 4)
    6.901
    """
    _check(inlet_pa, outlet_pa, temperature_c, darcy)
    if inlet_pa == outlet_pa:
        return GasFlow(0.0, outlet_pa, 0.0, False, 0.0, darcy or math.inf)
    if darcy is not None:
        return _solve(inlet_pa, outlet_pa, temperature_c, passage, darcy)
    curve = _curve(passage)
    low, high = math.log(1e-4), math.log(1e9)
    for _ in range(60):
        middle = 0.5 * (low + high)
        flow = _solve(inlet_pa, outlet_pa, temperature_c, passage, math.exp(middle))
        low, high = (middle, high) if _factor(curve, flow.reynolds) > math.exp(middle) else (low, middle)
    return flow


def free_air_l_min(mass_flow_kg_s: float, temperature_c: float) -> float:
    """Return litres a minute of that air let out to 101325 Pa at the given temperature.

    >>> round(free_air_l_min(6.901e-4, 20.0), 1)
    34.4
    """
    return mass_flow_kg_s / air.density(temperature_c) * 60e3


def _solve(
    inlet_pa: float, outlet_pa: float, temperature_c: float, passage: Passage, darcy: float
) -> GasFlow:
    specific = air.GAS_CONSTANT * (temperature_c + air.KELVIN)
    loss = darcy * passage.length_m / passage.hydraulic_diameter_m + passage.minor_loss
    throat = _choke_pressure(inlet_pa, loss)
    end = max(outlet_pa, throat)
    drive = (inlet_pa - end) * (inlet_pa + end)
    flux = math.sqrt(drive / (specific * (loss + 2.0 * math.log(inlet_pa / end))))
    speed = flux * specific / end
    return GasFlow(
        mass_flow_kg_s=flux * passage.area_m2,
        outlet_pa=end,
        mach_outlet=speed / math.sqrt(air.HEAT_RATIO * specific),
        choked=outlet_pa < throat,
        reynolds=flux * passage.hydraulic_diameter_m / air.viscosity(temperature_c),
        friction_factor=darcy,
    )


def _choke_pressure(inlet_pa: float, loss: float) -> float:
    """Return the outlet pressure of greatest flow: (p1/p2)^2 - 1 = loss + 2 ln(p1/p2)."""
    low, high = 0.0, 0.5 * math.log1p(loss) + 40.0
    for _ in range(100):
        middle = 0.5 * (low + high)
        above = math.expm1(2.0 * middle) > loss + 2.0 * middle
        low, high = (low, middle) if above else (middle, high)
    return inlet_pa * math.exp(-high)


def _curve(passage: Passage) -> Curve:
    laminar = laminar_f_re(passage.wire_m / passage.bore_m)
    roughness = passage.roughness_m / passage.hydraulic_diameter_m
    return prepare(FRICTION_LAW, np.array([laminar]), np.array([roughness]))


def _factor(curve: Curve, reynolds: float) -> float:
    return float(curve(np.array([reynolds]))[0][0]) / reynolds


def _check(inlet_pa: float, outlet_pa: float, temperature_c: float, darcy: float | None) -> None:
    for value, field in ((inlet_pa, "inlet_pa_abs"), (outlet_pa, "outlet_pa_abs")):
        between(value, 1e3, 1e7, field, "An absolute pressure", "Pa")
    temperature(temperature_c, -60.0, 200.0, "temperature_c", "The air")
    if inlet_pa < outlet_pa:
        raise Refusal(
            "contradiction",
            f"The inlet at {inlet_pa:g} Pa is below the outlet at {outlet_pa:g} Pa; air would flow the other way.",
            "inlet_pa_abs",
            "Both pressures are absolute: gauge plus about 101325 Pa.",
        )
    if darcy is not None:
        between(darcy, 1e-4, 1e9, "friction_factor", "A Darcy friction factor", "")
