from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.calculations import find, run
from lumenward.hydraulics import air
from lumenward.quantities import Refusal

P = 101325.0
TEMPERATURES = st.floats(-40.0, 60.0)


@given(TEMPERATURES)
def test_the_dew_point_of_saturated_air_is_its_temperature(celsius: float) -> None:
    assert air.dew_point(air.saturated_ratio(celsius)) == pytest.approx(celsius, abs=0.01)


@given(TEMPERATURES)
def test_the_wet_bulb_of_saturated_air_is_its_temperature(celsius: float) -> None:
    assert air.wet_bulb(celsius, air.saturated_ratio(celsius)) == pytest.approx(celsius, abs=1e-6)


@given(st.floats(-30.0, 60.0), st.floats(0.01, 0.99))
def test_the_wet_bulb_lies_between_dew_point_and_temperature(celsius: float, humidity: float) -> None:
    result = run("moist-air", {"temperature_c": celsius, "pressure_pa": P, "relative_humidity": humidity})
    assert result["dew_point_c"] - 0.02 <= result["wet_bulb_c"] <= celsius + 1e-9


@given(st.floats(-30.0, 60.0), st.floats(0.02, 0.98), st.floats(70e3, 400e3))
def test_every_measure_of_moisture_gives_the_same_air(celsius: float, humidity: float, pascal: float) -> None:
    base = {"temperature_c": celsius, "pressure_pa": pascal}
    first = run("moist-air", base | {"relative_humidity": humidity})
    for key in ("dew_point_c", "humidity_ratio"):
        again = run("moist-air", base | {key: first[key]})
        assert again["humidity_ratio"] == pytest.approx(first["humidity_ratio"], rel=3e-3)
        assert again["wet_bulb_c"] == pytest.approx(first["wet_bulb_c"], abs=0.02)


@given(st.floats(-99.0, 99.0), st.floats(0.01, 0.9))
def test_warmer_air_holds_more_vapour(celsius: float, more: float) -> None:
    assert air.saturation(celsius + more) > air.saturation(celsius)


def test_ice_and_water_meet_at_the_triple_point() -> None:
    assert air.saturation(0.01) == pytest.approx(611.657, rel=1e-6)
    assert air.saturation(0.0100001) == pytest.approx(611.657, rel=1e-4)


def test_frost_is_drier_than_supercooled_water() -> None:
    over_water_at_minus_40 = 18.9
    assert air.saturation(-40.0) < 0.7 * over_water_at_minus_40


def test_bone_dry_air_has_a_wet_bulb_but_no_dew_point() -> None:
    result = run("moist-air", {"temperature_c": 20, "pressure_pa": P, "humidity_ratio": 0})
    assert result["dew_point_c"] is None
    assert result["wet_bulb_c"] == pytest.approx(5.84, abs=0.05)
    assert "no dew point" in result["words"]


def test_dry_cold_air_freezes_its_wick() -> None:
    result = run("moist-air", {"temperature_c": 5, "pressure_pa": P, "relative_humidity": 0.05})
    assert -5.0 < result["wet_bulb_c"] < 0.0


@pytest.mark.parametrize(
    ("case", "code", "field"),
    [
        ({}, "missing", "relative_humidity"),
        ({"relative_humidity": 0.5, "dew_point_c": 10}, "contradiction", "dew_point_c"),
        ({"relative_humidity": 50}, "too-high", "relative_humidity"),
        ({"relative_humidity": -0.1}, "too-low", "relative_humidity"),
        ({"dew_point_c": 30}, "too-high", "dew_point_c"),
        ({"dew_point_c": -150}, "too-low", "dew_point_c"),
        ({"humidity_ratio": 0.05}, "too-high", "humidity_ratio"),
        ({"humidity_ratio": -0.001}, "too-low", "humidity_ratio"),
        ({"relative_humidity": 0.5, "pressure_pa": 101.325}, "too-low", "pressure_pa"),
        ({"relative_humidity": 0.5, "temperature_c": 293.15}, "too-high", "temperature_c"),
        ({"relative_humidity": 0.5, "temperature_c": 90, "pressure_pa": 50e3}, "too-high", "temperature_c"),
        ({"relative_humidity": float("nan")}, "not-finite", "relative_humidity"),
    ],
)
def test_air_that_cannot_be_is_refused_with_the_field(case: dict[str, float], code: str, field: str) -> None:
    with pytest.raises(Refusal) as caught:
        run("moist-air", {"temperature_c": 25, "pressure_pa": P} | case)
    assert (caught.value.code, caught.value.field) == (code, field)


@pytest.mark.parametrize(
    ("case", "hint"),
    [
        ({"relative_humidity": 50}, "Did you mean 0.5?"),
        ({"relative_humidity": 0.5, "pressure_pa": 101.325}, "Did you mean 101325?"),
        ({"relative_humidity": 0.5, "temperature_c": 293.15}, "Did you mean 20 °C? 293.15 K is 20 °C."),
    ],
)
def test_a_mixed_up_unit_is_answered_with_the_figure_meant(case: dict[str, float], hint: str) -> None:
    with pytest.raises(Refusal) as caught:
        run("moist-air", {"temperature_c": 25, "pressure_pa": P} | case)
    assert caught.value.hint == hint


def test_the_picture_ends_before_water_boils() -> None:
    module = find("moist-air")
    case = module.Input(temperature_c=70, pressure_pa=40e3, relative_humidity=0.4)
    chart = module.picture(case, module.run(case))
    assert max(chart.series[0].x) < 70
    assert chart.limits[0].axis == "x"
