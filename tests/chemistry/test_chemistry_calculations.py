"""The calculations of the room by their contract: keys, cases that are not the examples, refusals by field."""

from __future__ import annotations

import json
from typing import Any

import pytest

from lumenward.calculations import find, run, schema
from lumenward.calculations.case import parse
from lumenward.quantities import Refusal

NAMES = [
    "sink-volume", "dose", "cooling", "mixing", "carry-over", "a0", "window", "inactivation", "uncertainty",
]  # fmt: skip
BOX = {"shape": "box", "length_m": 0.6, "width_m": 0.45, "fill_m": 0.2}
DILUTION = {"kind": "ml_per_l_water", "value": 4}
HISTORY = [{"cycles": n, "percent": 0.55 * 0.99**n} for n in (10, 20, 30, 40)]


@pytest.mark.parametrize("name", NAMES)
def test_the_example_runs_its_picture_draws_and_its_words_stand(name: str) -> None:
    module = find(name)
    case = parse(module.Input, module.EXAMPLE)
    result = module.run(case)
    chart = module.picture(case, result)
    assert chart.question.endswith((".", "?"))
    assert chart.series
    assert all(len(line.x) == len(line.y) > 0 for line in chart.series)
    assert module.TITLE and module.LEAVES_OUT
    json.dumps(run(name, module.EXAMPLE), allow_nan=False)
    assert {"input", "output"} == set(schema(name))


@pytest.mark.parametrize(
    ("case", "litres"),
    [
        ({"shape": "box", "length_m": 0.5, "width_m": 0.4, "fill_m": 0.15}, 30.0),
        ({"shape": "stadium", "straight_m": 0.0, "width_m": 0.4, "fill_m": 0.1}, 12.566370614),
        ({"shape": "lying-cylinder", "diameter_m": 0.4, "length_m": 1.0, "fill_m": 0.4}, 125.66370614),
    ],
)
def test_a_sink_of_each_shape(case: dict[str, Any], litres: float) -> None:
    assert run("sink-volume", case)["volume_l"] == pytest.approx(litres)


def test_litres_for_a_centimetre_are_the_slope() -> None:
    assert run("sink-volume", BOX)["litres_per_cm"] == pytest.approx(2.7)


def test_a_dose_over_water_and_over_solution() -> None:
    over_water = run("dose", {"water_l": 15, "dilution": DILUTION})
    assert over_water["dose_ml"] == pytest.approx(60)
    assert over_water["volume_is"] == "water"
    assert over_water["concentration_ppm"] == pytest.approx(over_water["target_ppm"])
    over_solution = run("dose", {"sink": BOX, "dilution": {"kind": "percent_v_v", "value": 0.25}})
    assert over_solution["dose_ml"] == pytest.approx(135)
    assert over_solution["volume_is"] == "solution"


def test_without_tolerances_the_interval_is_unknown_and_not_zero() -> None:
    result = run("dose", {"water_l": 15, "dilution": DILUTION})
    assert (result["u_ppm"], result["interval_95_ppm"], result["shares"]) == (None, None, {})


def test_what_was_dispensed_decides_the_concentration() -> None:
    result = run("dose", {"water_l": 15, "dilution": DILUTION, "dispensed_ml": 30})
    assert result["dose_ml"] == pytest.approx(60)
    assert result["concentration_ppm"] == pytest.approx(1e6 * 30 / 15030)


def test_a_doubtful_amount_of_water_widens_the_interval() -> None:
    result = run("dose", {"water_l": 15, "dilution": DILUTION, "tolerances": {"water_l": 1.0, "dose_ml": 2}})
    low, high = result["interval_95_ppm"]
    assert low < result["concentration_ppm"] < high
    assert sum(result["shares"].values()) == pytest.approx(1)
    assert result["shares"]["water_l"] > result["shares"]["dose_ml"]


def test_a_sink_learned_from_two_readings_cools_as_it_was_seen_to() -> None:
    case = {
        "start_c": 43,
        "ambient_c": 21,
        "limit_c": 35,
        "readings": [[0, 43], [2440.72, 35]],
        "reading_u_c": 0.1,
    }
    result = run("cooling", case)
    assert result["time_to_limit_s"] == pytest.approx(2440.72)
    assert 0 < result["time_constant_u_s"] < 200


def test_a_limit_below_the_room_is_never_reached_and_said_so() -> None:
    result = run("cooling", {"start_c": 43, "ambient_c": 36, "limit_c": 35, "time_constant_s": 5400})
    assert result["time_to_limit_s"] is None
    assert "never" in result["sentence"]


def test_a_mixture_without_a_vessel_ends_at_its_target() -> None:
    result = run("mixing", {"hot_c": 55, "cold_c": 15, "target_c": 35, "mass_kg": 20})
    assert (result["hot_fraction"], result["final_c"], result["hot_kg"]) == (0.5, 35, 10)


def test_a_vessel_that_the_hot_tap_cannot_make_up_for_is_said_so() -> None:
    case = {"hot_c": 40, "cold_c": 10, "target_c": 39, "mass_kg": 5, "vessel_kg": 10, "vessel_c": 10}
    assert run("mixing", {**case, "vessel_cp_j_kg_k": 900})["hot_fraction_for_vessel"] is None


def test_a_history_takes_the_place_of_the_carried_volume() -> None:
    case = {"basin_l": 10, "start_percent": 0.55, "minimum_percent": 0.3, "history": HISTORY, "charge": ""}
    result = run("carry-over", {**case, "reading_spread": 0.03, "start_spread": 0.02})
    learned = result["learned"]
    assert learned["low"] <= 60 <= learned["high"]
    assert learned["carry_over_ml_low"] < 101 < learned["carry_over_ml_high"]
    assert abs(result["last_passing_cycle"] - 60) <= 3
    module = find("carry-over")
    parsed = parse(module.Input, {**case, "reading_spread": 0.03, "start_spread": 0.02})
    assert {s.kind for s in module.picture(parsed, module.run(parsed)).series} >= {
        "line",
        "band-low",
        "band-high",
        "points",
    }


def test_ageing_and_carry_over_add_up() -> None:
    case = {"basin_l": 10, "carry_over_ml": 100, "start_percent": 0.55, "minimum_percent": 0.3}
    aged = run("carry-over", {**case, "decay_per_day": 0.05, "cycles_per_day": 10})
    assert aged["last_passing_cycle"] == 40
    nothing = run("carry-over", {**case, "carry_over_ml": 0})
    assert nothing["last_passing_cycle"] is None


def test_a_log_may_come_as_csv() -> None:
    assert run("a0", {"csv": "time_s;temp_c\n0;80,0\n600;80,0\n"})["a0_s"] == pytest.approx(600)
    result = run("window", {"csv": "0,30\n300,50\n600,30\n", "low": 38, "high": 43})
    assert (result["in_s"], result["longest_in_s"]) == (pytest.approx(150), pytest.approx(75))


def test_a0_levels_are_met_at_their_value() -> None:
    assert run("a0", {"log": [[0, 70], [6000, 70]]})["meets"] == {"60": True, "600": True, "3000": False}


def test_a_gap_stays_open_in_the_picture() -> None:
    module = find("window")
    case = parse(
        module.Input, {"log": [[0, 40], [60, 40], [600, 40]], "low": 38, "high": 43, "max_gap_s": 120}
    )
    assert None in module.picture(case, module.run(case)).series[0].y


def refused(name: str, case: dict[str, Any]) -> Refusal:
    with pytest.raises(Refusal) as caught:
        run(name, case)
    assert caught.value.message
    return caught.value


@pytest.mark.parametrize(
    ("name", "change", "code", "field"),
    [
        ("sink-volume", {"width_m": None}, "missing", "width_m"),
        ("sink-volume", {"diameter_m": 0.4}, "unknown-key", "diameter_m"),
        ("sink-volume", {"length_m": -0.6}, "too-low", "length_m"),
        ("sink-volume", {"length_m": 600}, "too-high", "length_m"),
        ("sink-volume", {"length_m": "0.6"}, "not-valid", "length_m"),
        ("sink-volume", {"fill_m": float("nan")}, "not-finite", "fill_m"),
        ("sink-volume", {"shape": "bucket"}, "not-valid", "shape"),
        ("sink-volume", {"depth": 1}, "unknown-key", "depth"),
        ("dose", {"sink": None}, "missing", "water_l"),
        ("dose", {"water_l": 15}, "two-volumes", "water_l"),
        ("dose", {"sink": {**BOX, "fill_m": 20}}, "too-high", "sink.fill_m"),
        ("dose", {"dilution": {"kind": "oz_per_gal", "value": 1}}, "not-valid", "dilution.kind"),
        ("dose", {"dilution": {"value": 1}}, "missing", "dilution.kind"),
        ("dose", {"dilution": {"kind": "percent_v_v", "value": 250}}, "too-high", "dilution.value"),
        ("dose", {"tolerances": {"water_l": 1}}, "unknown-key", "tolerances.water_l"),
        ("dose", {"tolerances": {"dose_ml": 500}}, "too-high", "tolerances.dose_ml"),
        ("dose", {"tolerances": {"fill_m": -1}}, "not-valid", "tolerances.fill_m"),
        ("dose", {"dispensed_ml": -5}, "too-low", "dispensed_ml"),
        ("cooling", {"time_constant_s": None}, "missing", "time_constant_s"),
        ("cooling", {"time_constant_s": 0}, "too-low", "time_constant_s"),
        ("cooling", {"start_c": 316.15}, "too-high", "start_c"),
        ("mixing", {"target_c": 70}, "out-of-reach", "target_c"),
        ("mixing", {"vessel_c": None}, "missing", "vessel_c"),
        ("carry-over", {"minimum_percent": 0.6}, "already-below", "minimum_percent"),
        ("carry-over", {"carry_over_ml": None}, "missing", "carry_over_ml"),
        ("carry-over", {"carry_over_ml": -1}, "too-low", "carry_over_ml"),
        ("carry-over", {"decay_per_day": 0.1}, "missing", "cycles_per_day"),
        ("carry-over", {"history": HISTORY}, "missing", "reading_spread"),
        ("a0", {"log": None}, "missing", "log"),
        ("a0", {"log": [[0, 80], [0, 80]]}, "not-forward", "log[1]"),
        ("a0", {"log": [[0, 80], [5]]}, "not-valid", "log[1]"),
        ("window", {"csv": "0,1\n1,2"}, "two-sources", "log"),
        ("window", {"low": 50}, "empty-window", "low"),
        ("inactivation", {"m": -1}, "too-low", "m"),
        ("uncertainty", {"components": []}, "empty", "components"),
        ("uncertainty", {"coverage": 95}, "too-high", "coverage"),
        ("uncertainty", {"components": [{"u": 1, "dof": -2}]}, "too-low", "components[0].dof"),
    ],
)  # fmt: skip
def test_a_case_that_cannot_be_meant_is_refused_by_field(
    name: str, change: dict[str, Any], code: str, field: str
) -> None:
    case = {**find(name).EXAMPLE, **change}
    if next(iter(change.values())) is None:
        case.pop(next(iter(change)))
    refusal = refused(name, case)
    assert (refusal.code, refusal.field) == (code, field)
