"""A0 and time in a window; gaps, guards and crossings."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from lumenward.chemistry.thermal import a0
from lumenward.chemistry.window import time_in_window
from lumenward.quantities import Refusal

TEMPERATURES = st.lists(st.floats(20, 95), min_size=2, max_size=12)


def log_of(values: list[float], step: float = 10.0) -> list[tuple[float, float]]:
    return [(step * i, x) for i, x in enumerate(values)]


@given(TEMPERATURES)
def test_a0_is_the_integral_above_the_floor(values: list[float]) -> None:
    log = log_of(values)
    times, temperatures = zip(*log, strict=True)
    expected = 0.0
    for left, right in pairwise(times):
        span = np.linspace(left, right, 4001)
        shown = np.interp(span, times, temperatures)
        expected += np.trapezoid(np.where(shown >= 65, 10 ** ((shown - 80) / 10), 0.0), span)
    assert a0(log) == pytest.approx(expected, rel=2e-3, abs=2e-3)


def test_a_straight_rise_agrees_with_quadrature() -> None:
    expected, _ = quad(lambda t: 10 ** ((65 + t / 10 - 80) / 10), 0, 250, epsabs=1e-12)
    assert a0([(0, 65), (250, 90)]) == pytest.approx(expected, rel=1e-12)


@given(TEMPERATURES, st.integers(1, 10))
def test_a_gap_never_adds_to_a0_nor_to_the_time_in_the_window(values: list[float], dropped: int) -> None:
    log = log_of(values)
    gappy = [
        reading for i, reading in enumerate(log) if i == 0 or i == len(log) - 1 or i != dropped % len(log)
    ]
    assert a0(gappy, max_gap_s=10) <= a0(log, max_gap_s=10) * (1 + 1e-9)
    whole = time_in_window(log, 40, 60, max_gap_s=10)
    less = time_in_window(gappy, 40, 60, max_gap_s=10)
    assert less.in_s <= whole.in_s + 1e-9
    assert less.longest_in_s <= whole.longest_in_s + 1e-9
    assert less.unknown_s == pytest.approx(10 * 2 * (len(log) - len(gappy)))


@given(TEMPERATURES, st.floats(0, 5))
def test_inside_outside_and_unknown_sum_to_the_whole(values: list[float], guard: float) -> None:
    found = time_in_window(log_of(values), 40, 60, guard)
    assert found.in_s + found.out_s + found.unknown_s == pytest.approx(10 * (len(values) - 1))
    assert found.longest_in_s <= found.in_s + 1e-9


@given(TEMPERATURES, st.floats(0, 4))
def test_a_wider_guard_never_adds_time(values: list[float], guard: float) -> None:
    narrow, wide = (time_in_window(log_of(values), 40, 60, g).in_s for g in (guard, guard + 1))
    assert wide <= narrow + 1e-9


@given(TEMPERATURES, st.floats(0.1, 0.9))
def test_a_reading_put_on_the_line_changes_nothing(values: list[float], part: float) -> None:
    log = log_of(values)
    (t1, x1), (t2, x2) = log[:2]
    denser = [log[0], (t1 + part * (t2 - t1), x1 + part * (x2 - x1)), *log[1:]]
    assert a0(denser) == pytest.approx(a0(log), rel=1e-6, abs=1e-6)
    assert time_in_window(denser, 40, 60).in_s == pytest.approx(time_in_window(log, 40, 60).in_s, abs=1e-6)


def test_a_gap_breaks_the_longest_stay() -> None:
    log = [(0, 40), (60, 40), (600, 40), (660, 40)]
    found = time_in_window(log, 38, 43, max_gap_s=120)
    assert (found.in_s, found.out_s, found.unknown_s, found.longest_in_s) == (120, 0, 540, 60)
    assert time_in_window(log, 38, 43).longest_in_s == 660


def test_touching_the_edge_between_two_lines_does_not_break_a_stay() -> None:
    assert time_in_window([(0, 40), (60, 43), (120, 40)], 38, 43).longest_in_s == 120


def test_leaving_and_coming_back_is_two_stays() -> None:
    assert time_in_window([(0, 40), (60, 46), (120, 40)], 38, 43).stays == ((0.0, 30.0), (90.0, 120.0))


def test_a_window_seen_in_passing_counts_its_crossing_only() -> None:
    assert time_in_window([(0, 30), (100, 50)], 38, 43).in_s == pytest.approx(25)


@pytest.mark.parametrize(
    ("log", "code", "field"),
    [
        ([], "too-short", "log"),
        ([(0, 40)], "too-short", "log"),
        ([(0, 40), (0, 41)], "not-forward", "log[1]"),
        ([(0, 40), (10, 41), (5, 42)], "not-forward", "log[2]"),
        ([(0, 40), (10, float("nan"))], "not-finite", "log[1]"),
        ([(0, 40), (float("inf"), 40)], "not-finite", "log[1]"),
        ([(0, 40), (10,)], "bad-reading", "log[1]"),
        ([(1.7e12, 40), (1.7e12 + 1000, 41)], "too-high", "log[0]"),
        ([(0, 40), (10, 1e300)], "too-high", "log[1]"),
    ],
)
def test_a_log_that_cannot_be_read_is_refused(log: list[tuple[float, ...]], code: str, field: str) -> None:
    with pytest.raises(Refusal) as caught:
        time_in_window(log, 38, 43)
    assert (caught.value.code, caught.value.field) == (code, field)


@pytest.mark.parametrize(("low", "high", "guard"), [(43, 38, 0), (38, 38, 0), (38, 39, 0.6), (38, 39, -1)])
def test_a_window_without_room_is_refused(low: float, high: float, guard: float) -> None:
    with pytest.raises(Refusal):
        time_in_window([(0, 40), (10, 40)], low, high, guard)


def test_kelvins_in_a_washer_log_are_recognised() -> None:
    with pytest.raises(Refusal) as caught:
        a0([(0, 353.15), (600, 353.15)])
    assert "80 °C" in caught.value.hint
