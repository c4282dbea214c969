from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.calculations import find, run
from lumenward.hydraulics import leak
from lumenward.hydraulics.leak import Decay
from lumenward.quantities import Refusal

CASE = {
    "volume_m3": 0.35e-3,
    "start_pa_abs": 126e3,
    "end_pa_abs": 125e3,
    "start_c": 20,
    "end_c": 20,
    "duration_s": 60,
}
PRESSURES = st.floats(100e3, 160e3)
KELVINS = st.floats(283.0, 313.0)


@given(PRESSURES, st.floats(-5e3, 5e3))
def test_a_rise_is_a_leak_of_the_other_sign(start: float, fall: float) -> None:
    down = leak.leak_rate(Decay(0.35e-3, start, start - fall, 293.15, 293.15, 60))
    up = leak.leak_rate(Decay(0.35e-3, start, start + fall, 293.15, 293.15, 60))
    assert down == pytest.approx(-up, abs=1e-12)
    assert down == pytest.approx(0.35e-3 * fall / 60, abs=1e-12)


@given(PRESSURES, KELVINS, st.floats(-5.0, 5.0))
def test_warming_alone_is_no_leak(start: float, kelvin: float, warmer: float) -> None:
    end = start * (kelvin + warmer) / kelvin
    assert leak.leak_rate(Decay(0.35e-3, start, end, kelvin, kelvin + warmer, 60)) == pytest.approx(
        0, abs=1e-12
    )


@given(st.floats(0.1, 10.0), st.floats(0.1, 10.0))
def test_the_leak_grows_with_the_volume_and_falls_with_the_time(volume: float, time: float) -> None:
    base = leak.leak_rate(Decay(1e-3, 126e3, 125e3, 293.15, 293.15, 60))
    scaled = leak.leak_rate(Decay(1e-3 * volume, 126e3, 125e3, 293.15, 293.15, 60 * time))
    assert scaled == pytest.approx(base * volume / time)


@given(st.floats(0.0, 1e3), st.floats(0.0, 1.0))
def test_a_longer_hold_sees_smaller_leaks(pressure_u: float, temperature_u: float) -> None:
    short = leak.rate_uncertainty(Decay(1e-3, 126e3, 126e3, 293.15, 293.15, 30), pressure_u, temperature_u)
    long = leak.rate_uncertainty(Decay(1e-3, 126e3, 126e3, 293.15, 293.15, 60), pressure_u, temperature_u)
    assert long == pytest.approx(short / 2)


def test_the_hold_for_a_wanted_leak_puts_it_on_the_limit() -> None:
    decay = Decay(0.35e-3, 126e3, 126e3, 293.15, 293.15, 30)
    seconds = leak.hold_to_see(1e-3, decay, 289.0, 0.2)
    again = Decay(0.35e-3, 126e3, 126e3, 293.15, 293.15, seconds)
    assert leak.detection_limit(leak.rate_uncertainty(again, 289.0, 0.2)) == pytest.approx(1e-3)


def test_a_leak_above_the_limit_is_seen_and_one_below_is_not_excluded() -> None:
    gauge = {"pressure_u_pa": 29, "temperature_u_k": 0.05}
    seen, unseen = run("leak", CASE | gauge), run("leak", CASE | gauge | {"end_pa_abs": 125950})
    assert seen["seen"] is True
    assert unseen["seen"] is False
    assert "cannot see a leak below 0.58 mL/min in 60 s" in unseen["words"]
    assert "none excluded" in unseen["words"]


def test_a_rise_beyond_the_limit_asks_for_a_repeat() -> None:
    result = run("leak", CASE | {"end_pa_abs": 127e3, "pressure_u_pa": 29, "temperature_u_k": 0.05})
    assert result["leak_pa_m3_s"] < 0
    assert result["seen"] is False
    assert "repeat" in result["words"]


def test_without_uncertainties_nothing_is_claimed_about_the_gauge() -> None:
    result = run("leak", CASE)
    assert result["uncertainty_pa_m3_s"] is None
    assert result["detection_limit_pa_m3_s"] is None
    assert result["seen"] is None
    assert result["leak_ml_min"] == pytest.approx(3.454, rel=1e-3)


def test_half_an_uncertainty_says_that_the_limit_is_higher() -> None:
    result = run("leak", CASE | {"pressure_u_pa": 29})
    assert result["detection_limit_pa_m3_s"] == pytest.approx(3.29 * 0.35e-3 / 60 * 2**0.5 * 29)
    assert "temperature_u_k was not given" in result["words"]


def test_cooling_is_taken_out_before_a_leak_is_named() -> None:
    result = run("leak", CASE | {"start_c": 22, "end_c": 19.6, "pressure_u_pa": 29, "temperature_u_k": 0.05})
    assert result["pressure_change_pa"] == -1000
    assert abs(result["compensated_change_pa"]) < 50
    assert result["seen"] is False


@pytest.mark.parametrize(
    ("change", "code", "field", "hint"),
    [
        ({"volume_m3": 0.35}, "too-high", "volume_m3", "Did you mean 0.00035?"),
        ({"volume_m3": 0}, "too-low", "volume_m3", None),
        ({"volume_m3": -1e-3}, "too-low", "volume_m3", None),
        ({"start_pa_abs": 126}, "too-low", "start_pa_abs", "Did you mean 126000?"),
        ({"end_pa_abs": -5}, "too-low", "end_pa_abs", None),
        ({"duration_s": 0}, "too-low", "duration_s", None),
        ({"start_c": 293.15}, "too-high", "start_c", "Did you mean 20 °C? 293.15 K is 20 °C."),
        ({"pressure_u_pa": -1}, "too-low", "pressure_u_pa", None),
        ({"temperature_u_k": -1}, "too-low", "temperature_u_k", None),
        ({"end_c": float("nan")}, "not-finite", "end_c", None),
        ({"gauge": 1}, "unknown-key", "gauge", None),
    ],
)
def test_a_hold_that_cannot_be_is_refused(
    change: dict[str, float], code: str, field: str, hint: str | None
) -> None:
    with pytest.raises(Refusal) as caught:
        run("leak", CASE | change)
    assert (caught.value.code, caught.value.field) == (code, field)
    assert hint is None or caught.value.hint == hint


def test_the_picture_marks_the_smallest_fall_the_gauge_can_see() -> None:
    module = find("leak")
    case = module.Input(**module.EXAMPLE)
    chart = module.picture(case, module.run(case))
    assert 125.0 < chart.limits[0].value < 126.0
    assert chart.series[0].y == [126.0, 125.0]
