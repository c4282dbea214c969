"""Basins, temperatures, heat, logs and kinetics against closed forms, published figures and scipy."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from lumenward.calculations import run
from lumenward.chemistry.air_limits import MOLAR_MASS_G_MOL, vapour_mg_m3
from lumenward.chemistry.basin import Basin, fall_per_cycle, percent_after
from lumenward.chemistry.kinetics import giardia_ct
from lumenward.evidence import Check

_DILUTION = "n = ln(c0/MEC) / ln(1 + v/V)"
_A0 = "ISO 15883-1 annex B: A0 = sum of 10^((T-80)/10) dt, only from 65 °C"
_NEWTON = "Newton's law of cooling"
_HEAT = "heat balance of water and steel"


def _last(basin_l: float, carried_ml: float, start: float, minimum: float) -> int:
    case = {
        "basin_l": basin_l,
        "carry_over_ml": carried_ml,
        "start_percent": start,
        "minimum_percent": minimum,
    }
    return int(run("carry-over", case)["last_passing_cycle"])


def _carried(basin_l: float, carried_ml: float, start: float, minimum: float, expected: int) -> Check:
    name = f"last passing cycle, {start:g} to {minimum:g} %, {basin_l:g} L, {carried_ml:g} mL"
    return Check(
        "basin",
        name,
        expected,
        lambda: _last(basin_l, carried_ml, start, minimum),
        0,
        _DILUTION,
        "closed form",
    )


def _after_60() -> float:
    return percent_after(Basin(0.010, 0.55, 0.30), fall_per_cycle(0.010, 100e-6), 60)


def _fails_after(carried_ml: float) -> int:
    """Whole scopes until 0.55 % in 15 L has come to 0.30 %."""
    case = {"basin_l": 15, "carry_over_ml": carried_ml, "start_percent": 0.55, "minimum_percent": 0.30}
    return round(run("carry-over", case)["cycles_exact"])


def _heat(log: list[list[float]], **more: float) -> float:
    return float(run("a0", {"log": log, **more})["a0_s"])


def _held(temperature: float, seconds: float, expected: float, tolerance: float, source: str = _A0) -> Check:
    return Check(
        "A0", f"{temperature:g} °C for {seconds:g} s", expected,
        lambda: _heat([[0, temperature], [seconds, temperature]]), tolerance, source, "closed form", relative=True,
    )  # fmt: skip


_RAMP = [[0, 40], [300, 85], [480, 85], [780, 40]]


def _trapezoid() -> float:
    times = np.arange(0, 781, 10.0)
    heat = np.interp(times, *np.array(_RAMP).T)
    rates = np.where(heat >= 65, 10 ** ((heat - 80) / 10), 0.0)
    return float(np.trapezoid(rates, times))


def _ramp_by_quadrature() -> float:
    def rate(t: float) -> float:
        heat = float(np.interp(t, *np.array(_RAMP).T))
        return 10 ** ((heat - 80) / 10) if heat >= 65 else 0.0

    edges = [500 / 3, 300, 480, 780 - 500 / 3]
    return sum(quad(rate, a, b, epsabs=1e-10)[0] for a, b in pairwise(edges))


def _hom(decay: float) -> float:
    case = {"rate": 0.2, "n": 0.9, "m": 1.2, "start": 3, "decay_per_time": decay, "time": 6}
    return float(run("inactivation", case)["ln_survival"])


@lru_cache(maxsize=1)
def _hom_by_quadrature() -> float:
    value, _ = quad(lambda t: -0.2 * 1.2 * (3 * math.exp(-0.08 * t)) ** 0.9 * t**0.2, 0, 6, epsabs=1e-13)
    return float(value)


def _cooling() -> float:
    case = {"start_c": 43, "ambient_c": 21, "limit_c": 35, "time_constant_s": 90 * 60}
    return float(run("cooling", case)["time_to_limit_s"]) / 60


def _mixing(key: str) -> float:
    case = {"hot_c": 60, "cold_c": 10, "target_c": 38, "mass_kg": 10, "vessel_kg": 4, "vessel_c": 20}
    return float(run("mixing", {**case, "vessel_cp_j_kg_k": 500})[key])


def _window(key: str, **more: Any) -> float:
    case = {"log": [[0, 30], [300, 50], [600, 30]], "low": 38, "high": 43}
    return float(run("window", {**case, **more})[key])


def _noise_trap(guard: float) -> float:
    """A bath just out of its window (37.9 °C) read every 5 s with a noise of 0.3 K."""
    noise = np.random.default_rng(11).normal(37.9, 0.3, 121)
    log = [[5.0 * i, float(x)] for i, x in enumerate(noise)]
    return float(run("window", {"log": log, "low": 38, "high": 43, "guard": guard})["in_s"])


def _vapour(agent: str, ppm: float, expected: float, tolerance: float, source: str, known: str) -> Check:
    return Check(
        "air", f"{ppm:g} ppm {agent}, mg/m3", expected, lambda: vapour_mg_m3(ppm, MOLAR_MASS_G_MOL[agent]), tolerance,
        source, known,
    )  # fmt: skip


_GAS = "ppm x molar mass / 24.45"
_CDC = "CDC disinfection guideline, table 4 (limits); mg computed"

CHECKS = [
    _carried(10, 100, 0.55, 0.30, 60),
    _carried(10, 50, 0.55, 0.30, 121),
    _carried(10, 200, 0.55, 0.30, 30),
    _carried(12, 150, 2.4, 1.8, 23),
    Check("basin", "concentration after 60 cycles, %", 0.3027, _after_60, 5e-5, _DILUTION, "closed form"),
    Check(
        "basin", "15 L, 60 mL: scopes to 0.30 %", 152, lambda: _fails_after(60), 0, _DILUTION, "closed form"
    ),
    Check(
        "basin", "15 L, 150 mL: scopes to 0.30 %", 61, lambda: _fails_after(150), 0, _DILUTION, "closed form"
    ),
    Check(
        "temperature", "43 to 35 °C at 21 °C, tau 90 min, min", 40.68, _cooling, 0.01, _NEWTON, "closed form"
    ),
    Check(
        "temperature",
        "hot share for 38 °C from 60 and 10",
        0.56,
        lambda: _mixing("hot_fraction"),
        1e-9,
        _HEAT,
        "closed form",
    ),
    Check(
        "temperature",
        "after 4 kg of steel, °C",
        37.18,
        lambda: _mixing("final_c"),
        0.01,
        _HEAT,
        "closed form",
    ),
    *(_held(t, s, 60, 1e-9) for t, s in ((70, 600), (80, 60), (90, 6))),
    _held(80, 600, 600, 1e-9, "public validation page: 10 min at 80 °C is A0 600 (read)"),
    *(_held(t, s, 600, 1e-3) for t, s in ((65, 18974), (75, 1897), (93, 30.1))),
    *(_held(t, s, 600, 1e-9) for t, s in ((70, 6000), (90, 60))),
    *(_held(t, s, 3000, 3e-3) for t, s in ((80, 3000), (85, 949), (90, 300), (93, 150))),
    _held(93, 600, 11971.57, 1e-6),
    Check(
        "A0",
        "64.99 °C counts nothing",
        0.0,
        lambda: _heat([[0, 64.99], [6000, 64.99]]),
        0,
        _A0,
        "closed form",
    ),
    Check("A0", "40-85-40 °C ramp", 750.49, lambda: _heat(_RAMP), 0.005, _A0, "closed form"),
    Check(
        "A0",
        "the ramp by quadrature",
        True,
        lambda: abs(_heat(_RAMP) - _ramp_by_quadrature()) < 1e-6,
        0,
        "scipy.integrate.quad",
        "computed by scipy 1.17",
    ),
    Check(
        "A0",
        "10 s trapezoid of the ramp overstates",
        752.4,
        _trapezoid,
        0.1,
        "trapezoid rule",
        "computed by numpy 2.4",
    ),
    Check(
        "A0", "one kelvin of bias", 1.259, lambda: _heat([[0, 81], [600, 81]]) / 600, 1e-3, _A0, "closed form"
    ),
    Check(
        "kinetics",
        "Hom with decay, ln S",
        -3.67316,
        lambda: _hom(0.08),
        1e-5,
        "scipy.integrate.quad",
        "computed by scipy 1.17",
    ),
    Check(
        "kinetics",
        "the same in this run",
        True,
        lambda: abs(_hom(0.08) - _hom_by_quadrature()) < 1e-9,
        0,
        "scipy.integrate.quad",
        "computed by scipy 1.17",
    ),
    Check(
        "kinetics", "Hom without decay, ln S", -4.6155, lambda: _hom(0.0), 5e-5, "-k C^n t^m", "closed form"
    ),
    Check(
        "kinetics",
        "Giardia CT, 3 log, pH 7, 1 mg/L, 10 °C",
        112.0,
        lambda: giardia_ct(3, 7, 1, 10),
        0.01,
        "published table (fit and table differ by up to 7 % elsewhere)",
        "recalled",
        relative=True,
    ),
    Check(
        "log",
        "triangle 30-50-30 in 38-43, s",
        150.0,
        lambda: _window("in_s"),
        1e-9,
        "geometry of the triangle",
        "closed form",
    ),
    Check(
        "log",
        "its longest stay, s",
        75.0,
        lambda: _window("longest_in_s"),
        1e-9,
        "geometry of the triangle",
        "closed form",
    ),
    Check(
        "log",
        "the triangle with gaps of 300 s unknown",
        600.0,
        lambda: _window("unknown_s", max_gap_s=120),
        0,
        "definition",
        "closed form",
    ),
    Check(
        "log",
        "noise without a guard counts as inside",
        True,
        lambda: _noise_trap(0) > 120,
        0,
        "simulation: sd 0.3 K, 5 s",
        "computed by numpy 2.4",
    ),
    Check(
        "log",
        "a guard of 0.6 K stops it",
        True,
        lambda: _noise_trap(0.6) < 10,
        0,
        "simulation: sd 0.3 K, 5 s",
        "computed by numpy 2.4",
    ),
    _vapour("glutaraldehyde", 0.05, 0.205, 5e-4, _CDC, "read"),
    _vapour("glutaraldehyde", 0.2, 0.82, 5e-3, "NIOSH limit as listed: 0.2 ppm = 0.82 mg/m3", "read"),
    _vapour("peracetic acid", 0.4, 1.24, 5e-3, "ACGIH limit as listed; mg computed", "read"),
    _vapour("hydrogen peroxide", 1.0, 1.4, 0.05, "OSHA limit as listed: 1 ppm = 1.4 mg/m3", "read"),
    _vapour("ortho-phthalaldehyde", 1.0, 5.485, 5e-3, _GAS, "closed form"),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_chemistry_agrees_with_the_world_outside(check: Check) -> None:
    check.assert_holds()
