"""Carry-over: the last passing cycle, and what a basin's history teaches about it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.chemistry.basin import Basin, carry_over, fall_per_cycle, percent_after, whole_cycles
from lumenward.chemistry.basin_history import Instrument, Reading, learn
from lumenward.quantities import Refusal

STEADY = Instrument(reading_spread=0.05, start_spread=0.02)


@pytest.mark.parametrize("fall", [0.0, 5e-324, 1e-300])
def test_a_fall_too_small_to_end_has_no_last_cycle(fall: float) -> None:
    assert carry_over(Basin(0.010, 0.55, 0.30), fall).last_passing_cycle is None


@given(st.floats(1, 50), st.floats(5, 500), st.floats(0.3, 5), st.floats(0.2, 0.95))
def test_the_last_passing_cycle_passes_and_the_next_does_not(
    litres: float, carried: float, start: float, part: float
) -> None:
    basin = Basin(litres / 1000, start, start * part)
    far = carry_over(basin, fall_per_cycle(basin.volume_m3, carried / 1e6))
    assert far.last_passing_cycle is not None
    assert far.after_last_percent >= basin.minimum_percent * (1 - 1e-9)
    assert far.next_percent < basin.minimum_percent


def test_the_closed_form_is_the_dilution_done_step_by_step() -> None:
    percent = 0.55
    for _ in range(60):
        percent *= 10 / 10.1
    assert percent_after(Basin(0.010, 0.55, 0.3), fall_per_cycle(0.010, 100e-6), 60) == pytest.approx(percent)


def test_ageing_shortens_and_needs_the_cycles_of_a_day() -> None:
    fresh, aged = fall_per_cycle(0.01, 1e-4), fall_per_cycle(0.01, 1e-4, 0.02, 10)
    assert aged == pytest.approx(fresh + 0.002)
    with pytest.raises(Refusal) as caught:
        fall_per_cycle(0.01, 1e-4, 0.02, 0)
    assert caught.value.field == "cycles_per_day"


def test_a_charge_that_nothing_thins_has_no_last_cycle() -> None:
    assert carry_over(Basin(0.01, 0.55, 0.3), 0.0).last_passing_cycle is None


def test_a_charge_at_its_minimum_is_at_its_end() -> None:
    assert carry_over(Basin(0.01, 0.3, 0.3), 0.01).last_passing_cycle == 0
    assert whole_cycles(3 - 1e-13) == 3
    assert whole_cycles(2.999) == 2


def test_a_start_below_the_minimum_is_refused() -> None:
    with pytest.raises(Refusal) as caught:
        Basin(0.01, 0.25, 0.3)
    assert (caught.value.code, caught.value.field) == ("already-below", "minimum_percent")


def readings(fall: float, at: list[int], charge: str = "") -> list[Reading]:
    return [Reading(n, percent=0.55 * math.exp(-fall * n), charge=charge) for n in at]


def test_exact_readings_lead_to_the_exact_end_within_a_narrow_interval() -> None:
    fall = math.log(1.01)
    learned = learn(readings(fall, list(range(5, 60, 5))), 0.55, 0.30, STEADY, "")
    assert abs(learned.median - 60) <= 2
    assert learned.low <= 60 <= learned.high
    assert not learned.says_little


def test_more_readings_narrow_the_interval() -> None:
    fall = math.log(1.01)
    few = learn(readings(fall, [10, 20]), 0.55, 0.30, STEADY, "")
    many = learn(readings(fall, [10, 20, 30, 40, 50]), 0.55, 0.30, STEADY, "")
    assert many.high - many.low < few.high - few.low


def test_strips_alone_teach_where_they_turn() -> None:
    history = [Reading(n, passed=n <= 57) for n in range(20, 70, 3)]
    learned = learn(history, 0.55, 0.30, STEADY, "")
    assert learned.low <= 58 <= learned.high
    assert learned.high < 80


def test_passes_alone_say_little_about_the_end() -> None:
    learned = learn([Reading(n, passed=True) for n in range(5)], 0.55, 0.30, STEADY, "")
    assert learned.says_little


def test_a_new_charge_is_less_certain_than_one_with_readings_of_its_own() -> None:
    history = [
        r for name, fall in (("a", 0.009), ("b", 0.011), ("c", 0.010)) for r in readings(fall, [20, 40], name)
    ]
    new, used = learn(history, 0.55, 0.30, STEADY), learn(history, 0.55, 0.30, STEADY, "c")
    assert used.high - used.low < new.high - new.low


def test_the_interval_holds_the_truth_about_as_often_as_it_says() -> None:
    """95 % are promised; of 60 invented basins with five charges each, at least 54 must hold."""
    chance, held = np.random.default_rng(20261103), 0
    for _ in range(60):
        centre, between = chance.uniform(math.log(0.004), math.log(0.03)), abs(chance.normal(0, 0.3))
        falls = np.exp(chance.normal(centre, between, 6))
        starts = 0.55 * np.exp(chance.normal(0, 0.02, 6))
        history = [
            Reading(
                n,
                percent=float(starts[i] * math.exp(-falls[i] * n) * math.exp(chance.normal(0, 0.05))),
                charge=str(i),
            )
            for i in range(5)
            for n in (8, 20, 32)
        ]
        learned = learn(history, 0.55, 0.30, STEADY)
        held += learned.low <= math.log(starts[5] / 0.30) / falls[5] <= learned.high + 1
    assert held >= 54


@pytest.mark.parametrize(
    ("history", "field"),
    [
        ([], "history"),
        ([Reading(3)], "history[0]"),
        ([Reading(3, percent=0.4, passed=True)], "history[0]"),
        ([Reading(3, percent=0.4), Reading(-1, percent=0.4)], "history[1].cycles"),
        ([Reading(3, percent=0.0)], "history[0].percent"),
        ([Reading(3, percent=float("nan"))], "history[0].percent"),
    ],
)
def test_a_reading_that_says_nothing_is_refused(history: list[Reading], field: str) -> None:
    with pytest.raises(Refusal) as caught:
        learn(history, 0.55, 0.30, STEADY)
    assert caught.value.field == field
