from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.calculations import find, run
from lumenward.hydraulics import dispersion, washout
from lumenward.quantities import Refusal

VOLUMES = st.floats(0.0, 50.0)
PECLETS = st.floats(-4.0, 7.0).map(lambda power: 10.0**power)


def _all(volumes: float, peclet: float) -> list[washout.Washout]:
    return [washout.washout(model, volumes, peclet) for model in washout.MODELS]


@given(VOLUMES, PECLETS)
def test_every_fraction_lies_between_zero_and_one(volumes: float, peclet: float) -> None:
    for result in _all(volumes, peclet):
        assert 0.0 <= result.outlet <= 1.0
        assert 0.0 <= result.left <= 1.0
        assert result.exited == pytest.approx(1.0 - result.outlet, abs=1e-15)


@given(VOLUMES, st.floats(1e-3, 5.0), PECLETS)
def test_more_water_never_leaves_more_behind(volumes: float, more: float, peclet: float) -> None:
    for before, after in zip(_all(volumes, peclet), _all(volumes + more, peclet), strict=True):
        assert after.outlet <= before.outlet + 1e-9
        assert after.left <= before.left + 1e-9


@given(st.floats(1.0, 1e6))
def test_the_outlet_under_reads_what_a_laminar_channel_still_holds(volumes: float) -> None:
    result = washout.laminar_convection(volumes)
    assert result.left >= result.outlet


@given(st.floats(0.05, 6.0), PECLETS)
def test_what_is_left_falls_at_the_rate_at_which_the_outlet_carries_off(
    volumes: float, peclet: float
) -> None:
    step = 1e-4 * min(1.0, volumes)
    for model in washout.MODELS:
        before = washout.washout(model, volumes - step, peclet)
        middle = washout.washout(model, volumes, peclet)
        after = washout.washout(model, volumes + step, peclet)
        low, high = sorted((before.outlet, after.outlet))
        assert low - 1e-6 <= (before.left - after.left) / (2 * step) <= high + 1e-6
        assert low - 1e-9 <= middle.outlet <= high + 1e-9


def test_a_new_rinse_has_moved_nothing_yet() -> None:
    for result in _all(0.0, 30.0):
        assert (result.outlet, result.left) == (1.0, 1.0)


@pytest.mark.parametrize("volumes", [0.2, 0.7, 1.0, 1.4, 3.0])
def test_series_and_image_meet_where_they_hand_over(volumes: float) -> None:
    series = dispersion._by_series(volumes, dispersion.IMAGE_PECLET)
    image = dispersion._by_image(volumes, dispersion.IMAGE_PECLET)
    assert series == pytest.approx(image, abs=2e-10)


def test_little_mixing_is_a_plug_and_much_mixing_is_a_stirred_vessel() -> None:
    assert washout.closed_dispersion(0.99, 1e9).exited < 1e-9
    assert washout.closed_dispersion(1.01, 1e9).outlet < 1e-9
    assert washout.closed_dispersion(1.3, 1e-6).outlet == pytest.approx(math.exp(-1.3), abs=1e-6)
    assert washout.closed_dispersion(1.3, 1e-12).left == pytest.approx(math.exp(-1.3), abs=1e-9)


@pytest.mark.parametrize("peclet", [1e-300, 1e-9, 5.0, 1e4, 1e12, 1e300])
@pytest.mark.parametrize("volumes", [1e-300, 1e-6, 0.5, 1.0, 1e3, 1e300])
def test_extreme_figures_still_give_fractions(peclet: float, volumes: float) -> None:
    result = washout.closed_dispersion(volumes, peclet)
    assert 0.0 <= result.outlet <= 1.0
    assert 0.0 <= result.left <= 1.0


@given(PECLETS)
def test_the_pulse_variance_follows_from_what_is_left(peclet: float) -> None:
    assert 0.0 < dispersion.closed_variance(peclet) < 1.0
    assert dispersion.closed_variance(peclet) < dispersion.open_variance(peclet)


@pytest.mark.parametrize("peclet", [0.009, 0.0101, 3.0, 500.0])
def test_a_peclet_number_is_found_again_from_its_variance(peclet: float) -> None:
    assert washout.peclet_from_variance(dispersion.closed_variance(peclet)) == pytest.approx(peclet, rel=1e-4)


@given(st.floats(0.0, 40.0), st.floats(1e-5, washout.RADIAL_TIME_LIMIT))
def test_diffusion_only_thins_what_convection_leaves(volumes: float, tau: float) -> None:
    low, high = washout.laminar_with_diffusion(volumes, tau)
    pure = washout.laminar_convection(volumes).left
    assert 0.0 <= low <= high <= pure


def test_the_diffusion_correction_is_refused_where_it_was_never_tried() -> None:
    with pytest.raises(Refusal) as caught:
        washout.laminar_with_diffusion(2.0, 0.2)
    assert caught.value.code == "outside-validity"
    assert "closed-dispersion" in caught.value.hint


def test_taylors_mixing_says_when_it_holds() -> None:
    slow = washout.radial_time(1e-9, 0.001, 2.9, 0.001)
    quick = washout.radial_time(1e-9, 0.0012, 2.7, 0.5)
    assert washout.taylor_aris_holds(slow)
    assert not washout.taylor_aris_holds(quick)
    assert washout.taylor_aris(1e-9, 0.001, 0.001) == pytest.approx(1e-9 * (1 + 1000**2 / 192))
    assert washout.turbulent_mixing(1.0, 0.004, 0.03) > washout.turbulent_mixing(0.5, 0.004, 0.03)


@pytest.mark.parametrize(
    ("case", "code", "field"),
    [
        ({"model": "laminar-convection", "volumes": -1}, "too-low", "volumes"),
        ({"model": "closed-dispersion", "volumes": 1}, "missing", "peclet"),
        ({"model": "closed-dispersion", "volumes": 1, "peclet": 0}, "too-low", "peclet"),
        ({"model": "closed-dispersion", "volumes": 1, "peclet": -4}, "too-low", "peclet"),
        ({"model": "plug", "volumes": 1}, "not-valid", "model"),
        ({"model": "stirred"}, "missing", "volumes"),
        ({"model": "stirred", "volumes": float("nan")}, "not-finite", "volumes"),
        ({"model": "stirred", "volumes": "2"}, "not-valid", "volumes"),
        ({"model": "stirred", "volumes": 2, "volume": 2}, "unknown-key", "volume"),
    ],
)
def test_a_washout_that_cannot_be_is_refused_with_the_field(
    case: dict[str, object], code: str, field: str
) -> None:
    with pytest.raises(Refusal) as caught:
        run("washout", case)
    assert (caught.value.code, caught.value.field) == (code, field)


def test_a_bore_in_millimetres_is_answered_with_metres() -> None:
    diffusion = {"diffusivity_m2_s": 1e-9, "bore_m": 1.2, "length_m": 2.7, "velocity_m_s": 0.5}
    with pytest.raises(Refusal) as caught:
        run("washout", {"model": "laminar-convection", "volumes": 3, "diffusion": diffusion})
    assert caught.value.field == "diffusion.bore_m"
    assert caught.value.hint == "Did you mean 0.0012?"


def test_diffusion_narrows_the_bound_and_names_how_far_it_holds() -> None:
    diffusion = {"diffusivity_m2_s": 1e-9, "bore_m": 0.0012, "length_m": 2.7, "velocity_m_s": 0.5}
    result = run("washout", {"model": "laminar-convection", "volumes": 3, "diffusion": diffusion})
    assert result["left_fraction_low"] < 0.0168 < result["left_fraction_high"] < result["left_fraction"]
    assert result["convection_limit_volumes"] == pytest.approx(1.609, abs=1e-3)
    assert result["confidence"] == "fair"


def test_slow_flow_says_that_the_correction_does_not_hold() -> None:
    diffusion = {"diffusivity_m2_s": 1e-9, "bore_m": 0.001, "length_m": 2.9, "velocity_m_s": 0.001}
    result = run("washout", {"model": "laminar-convection", "volumes": 3, "diffusion": diffusion})
    assert result["left_fraction_high"] is None
    assert "over-reads" in result["words"]


@pytest.mark.parametrize("model", washout.MODELS)
def test_the_washout_curve_has_both_lines_and_the_asked_point(model: str) -> None:
    module = find("washout")
    case = module.Input(model=model, volumes=4, peclet=25)
    chart = module.picture(case, module.run(case))
    assert [series.name for series in chart.series][2] == "asked"
    assert all(len(series.x) == len(series.y) for series in chart.series)
    assert "volumes" in chart.x_label
