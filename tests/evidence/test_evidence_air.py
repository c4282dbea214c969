"""Air, moist air and compressed air against psychrolib, CoolProp, iapws and fluids in the same run."""

from __future__ import annotations

import fluids
import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI
from iapws import _iapws
from scipy.integrate import solve_ivp

from lumenward.calculations import run
from lumenward.evidence import Check
from lumenward.hydraulics import air, gas_flow
from lumenward.hydraulics.gas_flow import Passage

psychrolib.SetUnitSystem(psychrolib.SI)
P = 101325.0
_PSY = f"computed by psychrolib {getattr(psychrolib, '__version__', '2.5')}"
_COOL = "computed by CoolProp"
_CHANNEL = Passage(0.0028, 2.7)
_DARCY = 0.0279967


def _state(temperature_c: float, **moisture: float) -> dict[str, float]:
    return run("moist-air", {"temperature_c": temperature_c, "pressure_pa": P, **moisture})


def _relative(name: str, expected: float, ours: object, tolerance: float, source: str, known: str) -> Check:
    return Check("air", name, expected, ours, tolerance, source, known, relative=True)  # type: ignore[arg-type]


def _absolute(name: str, expected: float, ours: object, tolerance: float, source: str, known: str) -> Check:
    return Check("air", name, expected, ours, tolerance, source, known)  # type: ignore[arg-type]


_PROPERTIES = [
    check
    for t, mu, rho, psat in (
        (10, 17.72, 1.2472, 1228.2),
        (20, 18.21, 1.2046, 2339.3),
        (25, 18.45, 1.1843, 3169.9),
        (37, 19.02, 1.1384, 6282.3),
        (45, 19.40, 1.1097, 9595.0),
        (60, 20.10, 1.0596, 19946.4),
    )
    for check in (
        _relative(
            f"viscosity {t} C",
            mu * 1e-6,
            lambda t=t: air.viscosity(t),
            0.006,
            "table",
            "computed by CoolProp 8.0.0",
        ),
        _relative(
            f"viscosity {t} C, this run",
            PropsSI("V", "T", t + 273.15, "P", P, "Air"),
            lambda t=t: air.viscosity(t),
            0.006,
            "Lemmon and Jacobsen",
            _COOL,
        ),
        _relative(
            f"density {t} C", rho, lambda t=t: air.density(t), 0.001, "table", "computed by CoolProp 8.0.0"
        ),
        _relative(
            f"density {t} C, this run",
            PropsSI("D", "T", t + 273.15, "P", P, "Air"),
            lambda t=t: air.density(t),
            0.001,
            "Lemmon et al.",
            _COOL,
        ),
        _relative(
            f"saturation {t} C",
            psat,
            lambda t=t: air.saturation(t),
            2e-4,
            "table",
            "computed by CoolProp 8.0.0",
        ),
        _relative(
            f"saturation {t} C, this run",
            PropsSI("P", "T", t + 273.15, "Q", 0, "Water"),
            lambda t=t: air.saturation(t),
            2e-4,
            "IAPWS-95",
            _COOL,
        ),
    )
]

_ICE = [
    _relative(
        f"vapour over ice {t} C",
        _iapws._Sublimation_Pressure(t + 273.15) * 1e6,
        lambda t=t: air.saturation_over_ice(t),
        1e-9,
        "IAPWS R14-08(2011)",
        "computed by iapws",
    )
    for t in (-90, -60, -40, -20, -5, 0)
] + [
    _relative(
        "vapour over ice 230 K",
        8.94735,
        lambda: air.saturation_over_ice(-43.15),
        1e-6,
        "IAPWS R14-08(2011), check value",
        "recalled",
    ),
    _relative(
        "ice, -40 C, other formula",
        psychrolib.GetSatVapPres(-40.0),
        lambda: air.saturation(-40.0),
        0.003,
        "Hyland and Wexler",
        _PSY,
    ),
]

_MOIST = [
    check
    for t, psy, cool in ((20, 0.01470, 0.01476), (25, 0.02008, 0.02017), (40, 0.04888, 0.04914))
    for check in (
        _relative(
            f"saturated ratio {t} C",
            psy,
            lambda t=t: air.saturated_ratio(t),
            0.006,
            "table",
            "computed by psychrolib 2.5.0",
        ),
        _relative(
            f"saturated ratio {t} C, real gas",
            cool,
            lambda t=t: air.saturated_ratio(t),
            0.006,
            "table, +0.45 % enhancement",
            "computed by CoolProp 8.0.0",
        ),
        _relative(
            f"saturated ratio {t} C, psychrolib",
            psychrolib.GetSatHumRatio(float(t), P),
            lambda t=t: air.saturated_ratio(t),
            0.001,
            "ASHRAE Fundamentals",
            _PSY,
        ),
        _relative(
            f"saturated ratio {t} C, CoolProp",
            HAPropsSI("W", "T", t + 273.15, "P", P, "R", 1.0),
            lambda t=t: air.saturated_ratio(t),
            0.006,
            "Herrmann et al.",
            _COOL,
        ),
    )
] + [
    _relative(
        "ratio at 25 C and half",
        0.00988,
        lambda: _state(25, relative_humidity=0.5)["humidity_ratio"],
        0.005,
        "table",
        "computed by psychrolib 2.5.0",
    ),
    _relative(
        "ratio at 25 C and half, real gas",
        0.00993,
        lambda: _state(25, relative_humidity=0.5)["humidity_ratio"],
        0.005,
        "table",
        "computed by CoolProp 8.0.0",
    ),
    _absolute(
        "wet bulb at 25 C and half",
        17.89,
        lambda: _state(25, relative_humidity=0.5)["wet_bulb_c"],
        0.05,
        "table",
        "computed by psychrolib 2.5.0",
    ),
    _absolute(
        "wet bulb at 25 C and half, real gas",
        17.88,
        lambda: _state(25, relative_humidity=0.5)["wet_bulb_c"],
        0.05,
        "table",
        "computed by CoolProp 8.0.0",
    ),
    _absolute(
        "wet bulb of dry air 20 C",
        5.84,
        lambda: _state(20, humidity_ratio=0.0)["wet_bulb_c"],
        0.05,
        "table",
        "computed by psychrolib 2.5.0",
    ),
    _absolute(
        "wet bulb of dry air 20 C, real gas",
        5.81,
        lambda: _state(20, humidity_ratio=0.0)["wet_bulb_c"],
        0.05,
        "table",
        "computed by CoolProp 8.0.0",
    ),
    _relative(
        "ratio at dew point -40 C",
        7.9e-5,
        lambda: _state(20, dew_point_c=-40)["humidity_ratio"],
        0.02,
        "over ice; over liquid it would be 1.17e-4",
        "computed by psychrolib 2.5.0 and CoolProp 8.0.0",
    ),
    _relative(
        "ratio at dew point -40 C, this run",
        HAPropsSI("W", "T", 293.15, "P", P, "D", 233.15),
        lambda: _state(20, dew_point_c=-40)["humidity_ratio"],
        0.02,
        "Herrmann et al.",
        _COOL,
    ),
]

_GRID = [
    check
    for t, rh in ((5.0, 0.3), (15.0, 0.8), (22.0, 0.1), (35.0, 0.6), (50.0, 0.9))
    for check in (
        _absolute(
            f"wet bulb {t:g} C, {rh:g}",
            psychrolib.GetTWetBulbFromRelHum(t, rh, P),
            lambda t=t, rh=rh: _state(t, relative_humidity=rh)["wet_bulb_c"],
            0.02,
            "ASHRAE Fundamentals",
            _PSY,
        ),
        _absolute(
            f"dew point {t:g} C, {rh:g}",
            psychrolib.GetTDewPointFromRelHum(t, rh),
            lambda t=t, rh=rh: _state(t, relative_humidity=rh)["dew_point_c"],
            0.02,
            "ASHRAE Fundamentals",
            _PSY,
        ),
        _absolute(
            f"dew point {t:g} C, {rh:g}, real gas",
            HAPropsSI("D", "T", t + 273.15, "P", P, "R", rh) - 273.15,
            lambda t=t, rh=rh: _state(t, relative_humidity=rh)["dew_point_c"],
            0.05,
            "Herrmann et al.",
            _COOL,
        ),
    )
]


def _fluids_mass(
    inlet: float, outlet: float, temperature_c: float, darcy: float, length: float, bore: float
) -> float:
    density = inlet / (air.GAS_CONSTANT * (temperature_c + 273.15))
    return float(fluids.isothermal_gas(rho=density, fd=darcy, P1=inlet, P2=outlet, L=length, D=bore))


def _ours(inlet: float, outlet: float, passage: Passage, darcy: float) -> gas_flow.GasFlow:
    return gas_flow.isothermal(inlet, outlet, 20.0, passage, darcy)


def _marched(mass: float) -> float:
    """Return the outlet pressure of that mass flow, marched along the channel from 200 kPa."""
    specific, flux = air.GAS_CONSTANT * 293.15, mass / _CHANNEL.area_m2

    def slope(_: float, pressure: list[float]) -> list[float]:
        square = flux * flux * specific / pressure[0] ** 2
        return [-_DARCY / (2 * _CHANNEL.bore_m) * pressure[0] * square / (1 - square)]

    return float(solve_ivp(slope, (0, _CHANNEL.length_m), [200e3], rtol=1e-9, atol=1e-3).y[0][-1])


_GAS = [
    Check(
        "gas flow",
        "2.8 mm x 2.7 m, 200 to 100 kPa abs",
        6.9010e-4,
        lambda: _ours(200e3, 100e3, _CHANNEL, _DARCY).mass_flow_kg_s,
        3e-6,
        "isothermal_gas with inlet density",
        "computed by fluids 1.3.1",
        relative=True,
    ),
    Check(
        "gas flow",
        "2.8 mm x 2.7 m, 200 to 100 kPa abs, this run",
        _fluids_mass(200e3, 100e3, 20.0, _DARCY, 2.7, 0.0028),
        lambda: _ours(200e3, 100e3, _CHANNEL, _DARCY).mass_flow_kg_s,
        1e-6,
        "isothermal_gas with inlet density",
        "computed by fluids",
        relative=True,
    ),
    Check(
        "gas flow",
        "1.2 mm x 2.7 m, 250 to 101 kPa abs",
        _fluids_mass(250e3, 101325, 20.0, 0.042, 2.7, 0.0012),
        lambda: _ours(250e3, 101325, Passage(0.0012, 2.7), 0.042).mass_flow_kg_s,
        1e-6,
        "isothermal_gas with inlet density",
        "computed by fluids",
        relative=True,
    ),
    Check(
        "gas flow",
        "minor loss 1.5 as extra length",
        _fluids_mass(200e3, 101325, 20.0, 0.03, 2.7 + 1.5 * 0.0028 / 0.03, 0.0028),
        lambda: _ours(200e3, 101325, Passage(0.0028, 2.7, 0.0, 1.5), 0.03).mass_flow_kg_s,
        1e-6,
        "K = f L/D",
        "computed by fluids",
        relative=True,
    ),
    Check(
        "gas flow",
        "choke pressure of a short bore",
        float(fluids.P_isothermal_critical_flow(P=600e3, fd=0.02, D=0.0028, L=0.1)),
        lambda: _ours(600e3, 101325, Passage(0.0028, 0.1), 0.02).outlet_pa,
        1e-6,
        "P_isothermal_critical_flow",
        "computed by fluids",
        relative=True,
    ),
    Check(
        "gas flow",
        "outlet Mach number when choked",
        1.4**-0.5,
        lambda: _ours(600e3, 101325, Passage(0.0028, 0.1), 0.02).mach_outlet,
        1e-9,
        "isothermal choking",
        "closed form",
    ),
    Check(
        "gas flow",
        "outlet pressure marched along the channel",
        100e3,
        lambda: _marched(_ours(200e3, 100e3, _CHANNEL, _DARCY).mass_flow_kg_s),
        1e-5,
        "momentum equation, solve_ivp",
        "computed by scipy",
        relative=True,
    ),
    Check(
        "gas flow",
        "free air of the biopsy channel, L/min",
        34.0,
        lambda: gas_flow.free_air_l_min(_ours(201325, 101325, _CHANNEL, 0.028).mass_flow_kg_s, 20.0),
        0.6,
        "34 L/min at 100 kPa gauge",
        "own earlier prototype",
    ),
]

CHECKS = [*_PROPERTIES, *_ICE, *_MOIST, *_GRID, *_GAS]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_air_agrees_with_the_world_outside(check: Check) -> None:
    check.assert_holds()
