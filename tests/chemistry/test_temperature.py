"""Cooling, learning how fast, and mixing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.chemistry.temperature import (
    Vessel,
    hot_fraction,
    learn_time_constant,
    temperature_at,
    time_to_limit,
    water_for_target,
    water_to_add,
    with_vessel,
)
from lumenward.quantities import Refusal


@given(st.floats(36, 60), st.floats(5, 34), st.floats(600, 20000))
def test_at_the_time_of_the_limit_the_sink_has_the_limit(start: float, ambient: float, tau: float) -> None:
    time = time_to_limit(start, ambient, 35, tau)
    assert time is not None
    assert temperature_at(start, ambient, tau, time) == pytest.approx(35, abs=1e-9)


@pytest.mark.parametrize(
    ("start", "ambient", "limit", "time"),
    [
        (35, 21, 35, 0.0),
        (30, 21, 35, 0.0),
        (43, 36, 35, None),
        (43, 35, 35, None),
        (21, 21, 35, None),
        (21, 21, 21, 0.0),
        (45, 21, 40, pytest.approx(5400 * 0.2336149)),
        (10, 21, 15, pytest.approx(5400 * 0.6061358)),
        (16, 21, 15, 0.0),
        (10, 21, 25, None),
    ],
)
def test_a_limit_behind_us_or_out_of_reach(
    start: float, ambient: float, limit: float, time: float | None
) -> None:
    assert time_to_limit(start, ambient, limit, 5400) == time


@given(st.floats(600, 20000), st.floats(300, 7200))
def test_a_time_constant_is_learned_back_from_its_own_curve(tau: float, wait: float) -> None:
    second = temperature_at(43, 21, tau, wait)
    learned = learn_time_constant((0, 43), (wait, second), 21, 0.0)
    assert learned.value_s == pytest.approx(tau, rel=1e-6)
    assert learned.u_s == 0


def test_a_small_fall_teaches_with_a_large_uncertainty() -> None:
    long = learn_time_constant((0, 43), (2400, 35), 21, 0.2)
    short = learn_time_constant((0, 43), (200, 42.2), 21, 0.2)
    assert short.u_s / short.value_s > 5 * long.u_s / long.value_s


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ((0, 43), (600, 43)),
        ((0, 43), (600, 44)),
        ((600, 43), (0, 40)),
        ((0, 43), (600, 20)),
        ((0, 43), (60, 42.8)),
    ],
)
def test_readings_that_teach_nothing_are_refused(
    first: tuple[float, float], second: tuple[float, float]
) -> None:
    with pytest.raises(Refusal) as caught:
        learn_time_constant(first, second, 21, 0.2)
    assert caught.value.code == "not-cooling"


@given(st.floats(40, 70), st.floats(5, 20), st.floats(21, 39))
def test_the_mixture_has_the_target(hot: float, cold: float, target: float) -> None:
    share = hot_fraction(hot, cold, target)
    assert share * hot + (1 - share) * cold == pytest.approx(target)


@given(st.floats(1, 80), st.floats(0.5, 30), st.floats(5, 60))
def test_warmer_water_makes_up_for_the_vessel(water: float, body: float, vessel_c: float) -> None:
    vessel = Vessel(body, vessel_c, 500)
    assert with_vessel(water_for_target(38, water, vessel), water, vessel) == pytest.approx(38)


@pytest.mark.parametrize(
    ("hot", "cold", "target", "code"),
    [
        (60, 10, 65, "out-of-reach"),
        (60, 10, 5, "out-of-reach"),
        (10, 60, 38, "not-hotter"),
        (333, 283, 311, "too-high"),
    ],
)
def test_a_mixture_that_cannot_be_is_refused(hot: float, cold: float, target: float, code: str) -> None:
    with pytest.raises(Refusal) as caught:
        hot_fraction(hot, cold, target)
    assert caught.value.code == code


def test_water_to_add_brings_the_sink_where_it_is_wanted() -> None:
    added = water_to_add(0.02, 32, 36, 56)
    assert (0.02 * 32 + added * 56) / (0.02 + added) == pytest.approx(36)
    assert water_to_add(0.02, 36, 36, 56) == 0
    assert water_to_add(0.02, 44, 40, 10) == pytest.approx(0.02 * 4 / 30)
    with pytest.raises(Refusal):
        water_to_add(0.02, 32, 36, 30)
