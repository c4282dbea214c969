"""The four calculations of the network by name: their keys, their refusals, and what they do not load."""

from __future__ import annotations

import copy
import json
import subprocess
import sys

import numpy as np
import pytest

from lumenward import calculations
from lumenward.demo.geometry import load_family
from lumenward.hydraulics import solver
from lumenward.hydraulics.solver import Variants, solve_many, warm_up
from lumenward.quantities import Refusal

CASE = {
    "fluid": {"temperature_c": 20},
    "friction": "epanet",
    "nodes": [{"id": "R", "pressure_pa": 80000}, {"id": "O", "pressure_pa": 0}, {"id": "1"}],
    "tubes": [
        {"id": "a", "from": "R", "to": "1", "length_m": 0.6, "bore_m": 0.002, "wire_m": 0, "eccentricity": 0,
         "roughness_m": 1.5e-6, "minor_loss": 1, "open": True},
        {"id": "b", "from": "1", "to": "O", "length_m": 0.8, "bore_m": 0.0022},
    ],
    "pump": {"node": "1", "flow_m3_s": 1.25e-5, "slip_m3_s_pa": 1.25e-11, "relief_pa": 150000},
}  # fmt: skip


def changed(**more: object) -> dict[str, object]:
    return {**copy.deepcopy(CASE), **more}


def test_flow_answers_with_every_key_of_its_contract() -> None:
    result = calculations.run("flow", CASE)
    assert {"tubes", "nodes", "imbalance", "iterations"} <= set(result)
    keys = {
        "id",
        "flow_m3_s",
        "velocity_m_s",
        "reynolds",
        "friction_factor",
        "wall_shear_pa",
        "pressure_drop_pa",
    }
    assert keys | {"volume_m3"} <= set(result["tubes"][0])
    assert result["nodes"][2]["id"] == "1"
    into, out = (tube["flow_m3_s"] for tube in result["tubes"])
    assert out == pytest.approx(into + result["pump_m3_s"], rel=1e-12)


def test_an_answer_is_json_even_where_nothing_flows() -> None:
    case = changed(pump=None)
    case["tubes"][0]["open"] = case["tubes"][1]["open"] = False  # type: ignore[index]
    text = json.dumps(calculations.run("flow", case), allow_nan=False)
    assert json.loads(text)["nodes"][2]["pressure_pa"] is None
    assert json.loads(text)["tubes"][0]["friction_factor"] is None


@pytest.mark.parametrize(
    ("case", "field"),
    [
        (changed(fluid={}), "fluid"),
        (changed(fluid={"temperature_c": 20, "viscosity_pa_s": 1e-3}), "fluid"),
        (changed(fluid={"density_kg_m3": 1000}), "fluid"),
        (changed(fluid={"temperature_c": -3}), "fluid.temperature_c"),
        (changed(nodes=CASE["nodes"][:2]), "tubes[0].to"),
        (changed(nodes=[*CASE["nodes"], {"id": "2"}]), "nodes[3]"),
        (changed(pump={"node": "R", "flow_m3_s": 1e-5}), "pump.node"),
        (changed(friction="guess"), "friction"),
        (changed(extra=1), "extra"),
        (changed(tubes=[{"id": "a", "from": "R", "to": "O", "length_m": "0.6", "bore_m": 0.002}]), "tubes[0].length_m"),
        (changed(tubes=[{"id": "a", "from": "R", "to": "O", "bore_m": 0.002}]), "tubes[0].length_m"),
        (changed(tubes=[{"id": "a", "from": "R", "to": "O", "length_m": 1, "bore_m": 2.8}]), "tubes[0].bore_m"),
        (changed(tubes=[{**CASE["tubes"][1], "bore_m": float("nan")}]), "tubes[0].bore_m"),
    ],
)  # fmt: skip
def test_a_wrong_case_is_refused_with_its_field(case: dict[str, object], field: str) -> None:
    with pytest.raises(Refusal) as caught:
        calculations.run("flow", case)
    assert caught.value.field == field


@pytest.mark.parametrize("name", ["flow", "water", "friction", "annulus"])
def test_each_example_runs_and_can_be_drawn(name: str) -> None:
    module = calculations.find(name)
    case = module.Input.model_validate(module.EXAMPLE)
    chart = module.picture(case, module.run(case))
    assert all(len(series.x) == len(series.y) for series in chart.series)
    assert module.LEAVES_OUT
    assert calculations.schema(name)["input"]["properties"]


def test_water_friction_and_annulus_refuse_what_lies_outside() -> None:
    for name, case, field in [
        ("water", {"temperature_c": 100}, "temperature_c"),
        ("water", {"temperature_c": -0.01}, "temperature_c"),
        ("friction", {"law": "epanet", "reynolds": -1, "relative_roughness": 0}, "reynolds"),
        ("friction", {"law": "epanet", "reynolds": 1e4, "relative_roughness": 0.5}, "relative_roughness"),
        ("friction", {"law": "moody", "reynolds": 1e4, "relative_roughness": 0}, "law"),
        ("annulus", {"radius_ratio": 1.2, "eccentricity": 0}, "radius_ratio"),
        ("annulus", {"radius_ratio": 0.5, "eccentricity": -0.1}, "eccentricity"),
    ]:
        with pytest.raises(Refusal) as caught:
            calculations.run(name, case)
        assert caught.value.field == field


def test_water_at_its_freezing_point_is_still_water() -> None:
    assert calculations.run("water", {"temperature_c": 0})["density_kg_m3"] == pytest.approx(999.84, abs=0.02)


def test_a_single_network_loads_neither_scipy_nor_numba() -> None:
    program = (
        "import json, sys; from lumenward import calculations; "
        "calculations.run('flow', json.load(sys.stdin)); "
        "sys.exit(','.join(m for m in ('scipy', 'numba', 'matplotlib', 'django') if m in sys.modules) or 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], input=json.dumps(CASE), text=True, capture_output=True
    )
    assert done.returncode == 0, done.stderr


def test_without_numba_large_batches_go_through_numpy(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(solver, "has_compiler", lambda: False)
    network = load_family("bronchoscope")
    batch = solve_many(network, Variants(count=solver.WORTH_LOADING + 1))
    assert batch.converged.all()
    assert np.ptp(batch.flow, axis=0).max() == 0
    assert warm_up() is False
    with pytest.raises(Refusal) as caught:
        solve_many(network, Variants(count=2), engine="compiled")
    assert caught.value.code == "no-compiler"
