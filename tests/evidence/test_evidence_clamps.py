"""Clamp plans against closed forms, another solver's optimum, every set tried, and our own earlier figures."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import combinations
from typing import Any

import numpy as np
import pytest
import scipy
from numpy.typing import NDArray
from scipy.optimize import linprog

from lumenward.calculations import run
from lumenward.demo.geometry import channel_ids, load_family, port_ids
from lumenward.evidence import Check
from lumenward.hydraulics.clamps import ClampPlan, Shear, clamp_plan
from lumenward.hydraulics.schedule import shortest
from lumenward.quantities import Refusal

_SCIPY = f"computed by scipy {scipy.__version__}"
_REGRESSION = "computed by our own earlier prototype: a regression value, no evidence that it is right"
_CLOSED = "closed form"
_PEER = "scipy.optimize.linprog, HiGHS, on the same flows"
_FAMILIES = ("colonoscope", "gastroscope", "duodenoscope", "bronchoscope", "echoendoscope")


def _check(
    name: str, expected: Any, ours: Callable[[], Any], tolerance: float, source: str, known: str
) -> Check:
    return Check("clamps", name, expected, ours, tolerance, source, known, relative=True)


def _schedule(flows: dict[str, dict[str, float]], required: dict[str, float], **more: float) -> float:
    configurations = [{"name": name, "flow_m3_s": flow} for name, flow in flows.items()]
    return float(
        run("clamp-schedule", {"configurations": configurations, "required_m3": required, **more})["total_s"]
    )


def _shared(scale: float = 1.0) -> float:
    flows = {"a": {"a": 1e-5}, "b": {"b": 1e-5}, "both": {"a": 6e-6, "b": 4e-6}}
    return _schedule(flows, {"a": 70e-6 * scale, "b": 30e-6 * scale})


@cache
def _plan(family: str, demand: str, pressure_pa: float | None = None, cap: float | None = None) -> ClampPlan:
    network = load_family(family, pressure_pa=pressure_pa)
    held = {tube.id: tube.volume_m3 for tube in network.tubes}
    names = [name for name in channel_ids(family) if name != "biopsy-stub"]
    five = {name: 5 * held[name] for name in names}
    most = {name: max(50e-6, 10 * held[name]) for name in names}
    return clamp_plan(network, port_ids(family), five if demand == "5 volumes" else most, cap)


@cache
def _flows(seed: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rng = np.random.default_rng(seed)
    rates = 10 ** rng.uniform(-8, -5, (40, 6)) * (rng.random((40, 6)) < 0.6)
    rates[0] = 1e-7
    return rates, 10 ** rng.uniform(-6, -4, 6)


def _by_linprog(seed: int) -> float:
    rates, demands = _flows(seed)
    needs = (rates / demands).T
    return float(linprog(np.ones(len(rates)), A_ub=-needs, b_ub=-np.ones(len(demands)), method="highs").fun)


def _ours(seed: int, switch_s: float = 0.0, settings: int | None = None) -> float:
    rates, demands = _flows(seed)
    found = shortest(rates[:settings], demands, switch_s)
    assert found is not None
    return found.total_s


def _by_every_set(seed: int, switch_s: float, settings: int) -> float:
    """Return the least cost over every set of settings, each timed by linprog."""
    rates, demands = _flows(seed)
    best = np.inf
    for count in range(1, settings + 1):
        for chosen in combinations(range(settings), count):
            needs = (rates[list(chosen)] / demands).T
            timed = linprog(np.ones(count), A_ub=-needs, b_ub=-np.ones(len(demands)), method="highs")
            if timed.status == 0:
                best = min(best, timed.fun + switch_s * count)
    return float(best)


def _refused(family: str, minimum_pa: float) -> str:
    try:
        clamp_plan(
            load_family(family), port_ids(family), {"suction-cord": 1e-6}, shear=Shear(minimum_pa, 1.0)
        )
    except Refusal as refusal:
        return refusal.code
    return "possible"


_EXACT = [
    _check(
        "70 + 30 mL at 10 mL/s, single ports", 10.0, _shared, 1e-9, "sum of volumes over the flow", _CLOSED
    ),
    _check(
        "the same, volumes times 2.5",
        25.0,
        lambda: _shared(2.5),
        1e-9,
        "scaling volumes scales time",
        _CLOSED,
    ),
    _check(
        "independent channels",
        12.0,
        lambda: _schedule({"all": {"a": 3e-6, "b": 5e-6, "c": 1e-6}}, {"a": 30e-6, "b": 20e-6, "c": 12e-6}),
        1e-9,
        "the longest of volume over flow",
        _CLOSED,
    ),
    _check(
        "70 + 30 mL, 3 s a change",
        16.0,
        lambda: _schedule(
            {"a": {"a": 1e-5}, "b": {"b": 1e-5}, "both": {"a": 5e-6, "b": 3e-6}},
            {"a": 70e-6, "b": 30e-6},
            switch_s=3,
        ),
        1e-9,
        "two turns of 7 s and 3 s, two changes",
        _CLOSED,
    ),
]
_PEERS = [
    _check(
        f"least time, 40 settings, draw {seed}",
        _by_linprog(seed),
        lambda s=seed: _ours(s),
        1e-9,
        _PEER,
        _SCIPY,
    )
    for seed in range(6)
]
_TRIED = [
    _check(
        f"least cost, 7 settings, {switch:g} s a change, draw {seed}",
        _by_every_set(seed, switch, 7),
        lambda s=seed, w=switch: _ours(s, w, 7),
        1e-8,
        "every set of settings tried, each timed by scipy.optimize.linprog",
        _SCIPY,
    )
    for seed, switch in ((0, 20.0), (1, 100.0), (2, 500.0))
]


def _rounded(name: str, expected: float, ours: Callable[[], float | None]) -> Check:
    """Return a check against a figure printed without decimals; wires and rounding take 3 % and half a second."""
    return Check("clamps", name, expected, ours, 0.5 + 0.03 * expected, "our prototype's table", _REGRESSION)


def _table(
    demand: str, supply: str, pressure_pa: float | None, way: str, row: tuple[float, ...]
) -> list[Check]:
    return [
        _rounded(
            f"{family}, {demand}, {supply}: {way}",
            seconds,
            lambda f=family: getattr(_plan(f, demand, pressure_pa), way),
        )
        for family, seconds in zip(_FAMILIES, row, strict=True)
    ]


_OWN = [
    *_table("5 volumes", "pump", None, "total_s", (18, 13, 15, 1, 16)),
    *_table("5 volumes", "pump", None, "all_open_s", (118, 37, 153, 1, 129)),
    *_table("5 volumes", "pump", None, "one_at_a_time_s", (37, 29, 31, 1, 43)),
    *_table("5 volumes", "100 kPa", 100e3, "total_s", (16, 11, 13, 1, 17)),
    *_table("5 volumes", "100 kPa", 100e3, "all_open_s", (24, 13, 23, 1, 26)),
    *_table("5 volumes", "100 kPa", 100e3, "one_at_a_time_s", (41, 31, 34, 1, 55)),
    *_table("50 mL or 10 volumes", "pump", None, "total_s", (51, 43, 132, 4, 207)),
    *_table("50 mL or 10 volumes", "pump", None, "all_open_s", (428, 162, 2285, 8, 2357)),
    *_table("50 mL or 10 volumes", "pump", None, "one_at_a_time_s", (91, 94, 181, 4, 324)),
    _rounded(
        "colonoscope under a cap of 120 kPa",
        67,
        lambda: _plan("colonoscope", "5 volumes", None, 120e3).total_s,
    ),
    Check(
        "clamps",
        "10 Pa in a channel of 3.8 mm at 750 mL/min",
        "infeasible",
        lambda: _refused("colonoscope", 10.0),
        0.0,
        "our prototype's table: 5.3 Pa at most",
        _REGRESSION,
    ),
]

CHECKS: list[Check] = [*_EXACT, *_PEERS, *_TRIED, *_OWN]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_clamp_plans_agree_with_closed_forms_and_another_solver(check: Check) -> None:
    check.assert_holds()
