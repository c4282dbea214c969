from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.calculations import find, run
from lumenward.hydraulics import film, rinse
from lumenward.quantities import Refusal

WATER = {"viscosity_pa_s": 0.0010016, "surface_tension_n_m": 0.072736}


@given(st.floats(1e-9, 1e4), st.floats(1.001, 10.0))
def test_a_quicker_front_leaves_a_thicker_film_that_never_fills_the_bore(
    capillary: float, quicker: float
) -> None:
    slow, quick = film.thickness_over_radius(capillary), film.thickness_over_radius(capillary * quicker)
    assert 0.0 < slow < quick < 0.4
    assert film.left_fraction(slow) < film.left_fraction(quick) < 1.0


@given(st.floats(0.0, 0.4))
def test_the_film_and_the_core_fill_the_bore(thickness: float) -> None:
    assert film.left_fraction(thickness) + (1 - thickness) ** 2 == pytest.approx(1.0)


def test_slow_slugs_are_in_range_and_real_purges_are_not() -> None:
    slow, purge = run("film", {"velocity_m_s": 0.01, **WATER}), run("film", {"velocity_m_s": 5, **WATER})
    assert slow["in_validity_range"] is True
    assert purge["in_validity_range"] is False
    assert purge["confidence"] == "weak"
    assert (purge["practical_low"], purge["practical_high"]) == (0.05, 0.35)
    assert "range" in purge["words"]


def test_a_syrup_has_no_inertia_at_the_speed_at_which_water_has() -> None:
    assert film.holds(0.1, 1.0, 0.063, 0.002, 1260.0)
    assert not film.holds(0.1, 0.001, 0.063, 0.002, 1000.0)
    assert not film.holds(3.0, 1.0, 0.063, 0.0005, 1260.0)


def test_both_ways_of_asking_give_the_same_film() -> None:
    by_speed = run("film", {"velocity_m_s": 0.5, **WATER})
    by_number = run("film", {"capillary_number": by_speed["capillary_number"]})
    assert by_number["left_fraction"] == by_speed["left_fraction"]


@pytest.mark.parametrize(
    ("case", "code", "field"),
    [
        ({}, "missing", "capillary_number"),
        ({"velocity_m_s": 1}, "missing", "viscosity_pa_s"),
        ({"capillary_number": 0.01, "velocity_m_s": 1}, "contradiction", "velocity_m_s"),
        ({"capillary_number": 0}, "too-low", "capillary_number"),
        ({"velocity_m_s": -1, **WATER}, "too-low", "velocity_m_s"),
        (
            {"velocity_m_s": 1, "viscosity_pa_s": 0.001, "surface_tension_n_m": 72.7},
            "too-high",
            "surface_tension_n_m",
        ),
    ],
)
def test_a_film_that_cannot_be_is_refused_with_the_field(
    case: dict[str, object], code: str, field: str
) -> None:
    with pytest.raises(Refusal) as caught:
        run("film", case)
    assert (caught.value.code, caught.value.field) == (code, field)


def test_a_surface_tension_in_millinewtons_is_answered_in_newtons() -> None:
    with pytest.raises(Refusal) as caught:
        run("film", {"velocity_m_s": 1, "viscosity_pa_s": 0.001, "surface_tension_n_m": 72.7})
    assert caught.value.hint == "Did you mean 0.0727?"


@given(st.floats(1.0, 1e5), st.floats(0.01, 0.99), st.floats(1e-6, 1.0))
def test_the_fills_reach_the_target_and_one_fewer_does_not(start: float, left: float, share: float) -> None:
    target = start * share
    fills = rinse.fills_to(start, left, target)
    assert rinse.after_fills(start, left, fills) <= target * (1 + 1e-6)
    assert fills == 0 or rinse.after_fills(start, left, fills - 1) > target * (1 - 1e-6)


@given(st.floats(10.0, 1e5), st.floats(0.01, 0.5), st.floats(0.001, 0.9))
def test_a_worse_purge_never_needs_fewer_fills(start: float, left: float, share: float) -> None:
    assert rinse.fills_to(start, left * 1.5, start * share) >= rinse.fills_to(start, left, start * share)


def test_an_exact_hit_needs_no_extra_fill() -> None:
    assert rinse.fills_to(5000, 0.1, 50) == 2
    assert rinse.fills_to(1000, 0.1, 1e-3) == 6
    assert rinse.fills_to(50, 0.1, 50) == 0


@given(st.floats(4.0, 1e6))
def test_without_purges_laminar_flow_needs_more_water_than_stirring(ratio: float) -> None:
    volumes = rinse.flow_through(ratio, 1.0)
    assert volumes.laminar_left >= volumes.laminar_outlet >= 0.5
    assert volumes.stirred > 0.0


@pytest.mark.parametrize(
    ("case", "code", "field"),
    [
        ({"start_ppm": 10, "left_fraction": 0.1, "target_ppm": 50}, "target-above-start", "target_ppm"),
        ({"start_ppm": 10, "left_fraction": 0, "target_ppm": 5}, "out-of-range", "left_fraction"),
        ({"start_ppm": 10, "left_fraction": 1, "target_ppm": 5}, "out-of-range", "left_fraction"),
        ({"start_ppm": 10, "left_fraction": 20, "target_ppm": 5}, "out-of-range", "left_fraction"),
        ({"start_ppm": 10, "left_fraction": -0.2, "target_ppm": 5}, "out-of-range", "left_fraction"),
        ({"start_ppm": 10, "left_fraction": 0.2, "target_ppm": 0}, "too-low", "target_ppm"),
        ({"start_ppm": 10, "left_fraction": 0.2, "target_ppm": 5e-324}, "too-low", "target_ppm"),
        ({"start_ppm": 2e6, "left_fraction": 0.2, "target_ppm": 5}, "too-high", "start_ppm"),
        ({"start_ppm": -1, "left_fraction": 0.2, "target_ppm": 1}, "too-low", "start_ppm"),
        ({"start_ppm": 10, "left_fraction": 0.2}, "missing", "target_ppm"),
        ({"start_ppm": float("inf"), "left_fraction": 0.2, "target_ppm": 1}, "not-finite", "start_ppm"),
    ],
)
def test_a_rinse_that_cannot_be_is_refused_with_the_field(
    case: dict[str, object], code: str, field: str
) -> None:
    with pytest.raises(Refusal) as caught:
        run("rinse", case)
    assert (caught.value.code, caught.value.field) == (code, field)


def test_a_share_in_percent_is_answered_as_a_fraction() -> None:
    with pytest.raises(Refusal) as caught:
        run("rinse", {"start_ppm": 10, "left_fraction": 20, "target_ppm": 5})
    assert caught.value.hint == "Did you mean 0.2?"


def test_fills_are_a_whole_number_and_the_strength_after_them_is_told() -> None:
    result = run("rinse", {"start_ppm": 5000, "left_fraction": 0.35, "target_ppm": 10})
    assert result["fills"] == 6
    assert isinstance(result["fills"], int)
    assert result["after_ppm"] == pytest.approx(5000 * 0.35**6)
    assert result["confidence"] == "weak"


@pytest.mark.parametrize("name", ["film", "rinse"])
def test_the_picture_shows_the_limits_it_is_judged_by(name: str) -> None:
    module = find(name)
    case = module.Input(**module.EXAMPLE)
    chart = module.picture(case, module.run(case))
    assert chart.limits
    assert all(len(series.x) == len(series.y) for series in chart.series)
