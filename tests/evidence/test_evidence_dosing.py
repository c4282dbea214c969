"""Sinks, doses and uncertainties against closed forms, a published dose, the GUM's example and a simulation."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import pytest

from lumenward.calculations import run
from lumenward.chemistry.dosing import Dilution
from lumenward.chemistry.hardness import hardness_class
from lumenward.evidence import Check

_GEOMETRY = "geometry of the shape"
_CASE = {
    "sink": {"shape": "box", "length_m": 0.60, "width_m": 0.45, "fill_m": 0.20},
    "dilution": {"kind": "ml_per_l_solution", "value": 2.5},
    "tolerances": {"dose_ml": 2, "length_m": 0.003, "width_m": 0.003, "fill_m": 0.005},
    "dispensed_ml": 135,
}
_TAPER = {
    "shape": "tapered", "bottom_length_m": 0.5, "bottom_width_m": 0.4, "top_length_m": 0.6, "top_width_m": 0.5,
    "height_m": 0.3,
}  # fmt: skip
_GUM = {
    "components": [
        {"u": 25, "dof": 18},
        {"u": 9.7, "dof": 25.6},
        {"u": 2.9, "dof": 50},
        {"u": 16.6, "dof": 2},
    ],
    "coverage": 0.99,
}
_GUM_SOURCE = "JCGM 100:2008, example H.1"


@lru_cache(maxsize=1)
def _simulated() -> dict[str, float]:
    """The same dose by brute force: 400 000 draws of dose and sides, each uniform inside its tolerance."""
    draw = np.random.default_rng(8).uniform
    n = 400_000
    dose = draw(133e-6, 137e-6, n)
    litres = draw(0.597, 0.603, n) * draw(0.447, 0.453, n) * draw(0.195, 0.205, n)
    ppm = 1e6 * dose / litres
    low, high = np.quantile(ppm, [0.025, 0.975])
    return {"mean": float(ppm.mean()), "u": float(ppm.std()), "low": float(low), "high": float(high)}


def _dose(key: str) -> Any:
    return run("dose", _CASE)[key]


def _volume(**case: Any) -> float:
    return float(run("sink-volume", case)["volume_l"])


def _sink(name: str, expected: float, tolerance: float, **case: Any) -> Check:
    return Check("sinks", name, expected, lambda: _volume(**case), tolerance, _GEOMETRY, "closed form")


def _way(kind: Any, value: float, expected: float, name: str) -> Check:
    source = "definition of the term"
    return Check(
        "dilutions", name, expected, lambda: Dilution(kind, value).fraction, 1e-12, source, "closed form"
    )


def _ounces(kind: Any) -> float:
    return 1000 * Dilution(kind, 1).per_water


def _u_of(components: list[float]) -> float:
    return float(run("uncertainty", {"components": [{"u": u} for u in components]})["u_c"])


def _interval_covers_the_simulation() -> bool:
    low, high = _dose("interval_95_ppm")
    return bool(low <= _simulated()["low"] and high >= _simulated()["high"])


_MONTE_CARLO = ("simulation with 400 000 draws in the same run", "computed by numpy 2.4")

CHECKS = [
    _sink("box .6 x .45 x .2 m, L", 54.0, 1e-9, shape="box", length_m=0.6, width_m=0.45, fill_m=0.2),
    _sink("frustum full, L", 74.5, 1e-6, **_TAPER, fill_m=0.3),
    _sink("frustum at .2 m, L", 46.296, 5e-4, **_TAPER, fill_m=0.2),
    _sink(
        "stadium .4 + .4 at .2 m, L", 57.133, 5e-4, shape="stadium", straight_m=0.4, width_m=0.4, fill_m=0.2
    ),
    _sink(
        "trough .5 x .6 at .2 m, L",
        44.005,
        5e-4,
        shape="lying-cylinder",
        diameter_m=0.5,
        length_m=0.6,
        fill_m=0.2,
    ),
    _sink(
        "trough half full, L", 58.905, 5e-4, shape="lying-cylinder", diameter_m=0.5, length_m=0.6, fill_m=0.25
    ),
    _way("one_to_n", 4, 0.20, "1:4"),
    _way("one_in_n", 4, 0.25, "1 in 4"),
    _way("one_in_n", 100, 0.01, "1 in 100"),
    _way("ml_per_l_solution", 7, 0.007, "7 mL in a litre of solution"),
    _way("ml_per_l_water", 7, 7 / 1007, "7 mL to a litre of water"),
    Check(
        "dilutions",
        "1 US oz/gal, mL/L",
        7.8125,
        lambda: _ounces("us_oz_per_gal"),
        1e-9,
        "128 fl oz a gallon",
        "closed form",
    ),
    Check(
        "dilutions",
        "1 imperial oz/gal, mL/L",
        6.25,
        lambda: _ounces("imp_oz_per_gal"),
        1e-9,
        "160 fl oz a gallon",
        "closed form",
    ),
    Check(
        "dose",
        "4 mL/L for 15 L of water, mL",
        60.0,
        lambda: run("dose", {"water_l": 15, "dilution": {"kind": "ml_per_l_water", "value": 4}})["dose_ml"],
        1e-9,
        "training page on the steps of cleaning: 60 mL in 15 L",
        "read",
    ),
    Check(
        "dose",
        "60 mL in 15 L, %",
        0.4,
        lambda: run("dose", {"water_l": 15, "dilution": {"kind": "ml_per_l_water", "value": 4}})[
            "concentration_percent"
        ],
        0.002,
        "training page on the steps of cleaning: 0.4 % v/v, rounded",
        "read",
    ),
    Check(
        "dose",
        "135 mL in 54 L, ppm",
        2500.0,
        lambda: _dose("concentration_ppm"),
        1e-6,
        "division",
        "closed form",
    ),
    Check(
        "dose",
        "its u, ppm",
        43.6,
        lambda: _dose("u_ppm"),
        0.01,
        "GUM 5.1.2 by hand",
        "closed form",
        relative=True,
    ),
    Check(
        "dose",
        "its U95, ppm",
        87.0,
        lambda: (_dose("interval_95_ppm")[1] - _dose("interval_95_ppm")[0]) / 2,
        0.01,
        "GUM with k = 2 (6.3.3)",
        "closed form",
        relative=True,
    ),
    Check(
        "dose",
        "share of the fill height",
        0.68,
        lambda: _dose("shares")["fill_m"],
        0.005,
        "GUM by hand",
        "closed form",
    ),
    Check(
        "dose",
        "share of the dose",
        0.24,
        lambda: _dose("shares")["dose_ml"],
        0.005,
        "GUM by hand",
        "closed form",
    ),
    Check(
        "dose",
        "u against a simulation",
        True,
        lambda: abs(_dose("u_ppm") / _simulated()["u"] - 1) < 0.01,
        0,
        *_MONTE_CARLO,
    ),
    Check(
        "dose",
        "the interval covers the simulated 95 %",
        True,
        _interval_covers_the_simulation,
        0,
        *_MONTE_CARLO,
    ),
    Check("dose", "simulated low end, ppm", 2420.0, lambda: _simulated()["low"], 3.0, *_MONTE_CARLO),
    Check("dose", "simulated high end, ppm", 2583.0, lambda: _simulated()["high"], 3.0, *_MONTE_CARLO),
    Check(
        "uncertainty",
        "GUM H.1 u_c, nm",
        32.0,
        lambda: run("uncertainty", _GUM)["u_c"],
        0.5,
        _GUM_SOURCE,
        "recalled",
    ),
    Check(
        "uncertainty",
        "GUM H.1 u_c, more digits",
        31.7,
        lambda: run("uncertainty", _GUM)["u_c"],
        0.05,
        _GUM_SOURCE,
        "recalled",
    ),
    Check(
        "uncertainty",
        "GUM H.1 effective degrees",
        16.8,
        lambda: run("uncertainty", _GUM)["dof_effective"],
        0.1,
        _GUM_SOURCE,
        "recalled",
    ),
    Check(
        "uncertainty",
        "GUM H.1 t99",
        2.92,
        lambda: run("uncertainty", _GUM)["k"],
        0.005,
        _GUM_SOURCE,
        "recalled",
    ),
    Check(
        "uncertainty",
        "GUM H.1 U99, nm",
        93.0,
        lambda: run("uncertainty", _GUM)["expanded"],
        1.0,
        _GUM_SOURCE,
        "recalled",
    ),
    Check(
        "uncertainty",
        "GUM H.1 with second order, nm",
        34.0,
        lambda: _u_of([25, 9.7, 2.9, 16.6, 11.7, 1.7]),
        0.5,
        _GUM_SOURCE,
        "recalled",
    ),
    *(
        Check(
            "water",
            f"{mg:g} mg/L CaCO3",
            name,
            lambda mg=mg: hardness_class(mg),
            0,
            "US Geological Survey classes",
            "recalled",
        )
        for mg, name in ((60, "soft"), (90, "moderately hard"), (150, "hard"), (200, "very hard"))
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_dosing_agrees_with_the_world_outside(check: Check) -> None:
    check.assert_holds()
