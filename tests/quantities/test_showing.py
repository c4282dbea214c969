"""Showing numbers to people."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.quantities import (
    THIN,
    parse_number,
    show,
    show_clock,
    show_duration,
    show_in,
    show_number,
    to_si,
)


def plain(text: str) -> str:
    return text.replace(THIN, " ")


@pytest.mark.parametrize(
    ("value", "unit", "digits", "text"),
    [
        (95, "s", 0, "95 s"),
        (0.0055, "%", 2, "0.55 %"),
        (0.003, "%", 2, "0.30 %"),
        (to_si(160, "mmHg"), "mmHg", 0, "160 mmHg"),
        (311.15, "°C", 1, "38.0 °C"),
        (1.25e-5, "mL/min", None, "750 mL/min"),
        (0.0124, "L", None, "12.4 L"),
        (0, "mL", None, "0 mL"),
    ],
)
def test_a_quantity_reads_as_people_write_it(value: float, unit: str, digits: int | None, text: str) -> None:
    assert plain(show(value, unit, digits)) == text


def test_number_and_unit_never_part_at_a_line_end() -> None:
    assert show_in(5, "mL") == "5\u202fmL"


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.049, None, "0.049"),
        (2500.4, None, "2500"),
        (12500, None, "12 500"),
        (-0.004, 1, "0.0"),
        (-2.5, 1, "−2.5"),
        (math.nan, None, "unknown"),
        (math.inf, None, "∞"),
        (-math.inf, None, "−∞"),
    ],
)
def test_a_bare_number(value: float, digits: int | None, text: str) -> None:
    assert plain(show_number(value, digits)) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (119.9, "119 s"),
        (120, "2 min"),
        (599, "9 min 59 s"),
        (1119, "18 min"),
        (3600, "1 h"),
        (3900, "1 h 05 min"),
        (47 * 3600, "47 h"),
        (2 * 86400 + 3 * 3600, "2 days 3 h"),
        (8 * 86400 + 3 * 3600, "8 days"),
        (-1080, "−18 min"),
        (-0.5, "0 s"),
        (math.nan, "unknown"),
    ],
)
def test_a_duration_in_words(seconds: float, text: str) -> None:
    assert plain(show_duration(seconds)) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0:00"), (21.9, "0:21"), (725, "12:05"), (3600, "1:00:00"), (-5, "−0:05"), (-0.4, "0:00")],
)
def test_a_duration_as_a_clock(seconds: float, text: str) -> None:
    assert show_clock(seconds) == text


@given(st.floats(min_value=-1e6, max_value=1e6))
def test_a_shown_number_is_read_back_within_its_digits(value: float) -> None:
    assert parse_number(show_number(value, 2)) == pytest.approx(value, abs=0.0051)
