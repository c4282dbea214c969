"""Reading numbers: nothing is guessed, nothing is silently altered."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lumenward.quantities import Refusal, parse_in, parse_number, parse_quantity


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("95", 95.0),
        (" 0,55 ", 0.55),
        ("0.55", 0.55),
        (".5", 0.5),
        ("1 250", 1250.0),
        ("1\u2009250", 1250.0),
        ("12\u202f500,5", 12500.5),
        ("−40", -40.0),
        ("+3", 3.0),
        ("1.6e-6", 1.6e-6),
        ("0,125", 0.125),
        ("1.234", 1.234),
        ("12,34", 12.34),
        ("1234,567", 1234.567),
    ],
)
def test_a_number_is_read_as_written(text: str, value: float) -> None:
    assert parse_number(text) == value


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("NaN", "not-a-number"),
        ("inf", "not-a-number"),
        ("-Infinity", "not-a-number"),
        ("🙂", "not-a-number"),
        ("5🙂", "not-a-number"),
        ("five", "not-a-number"),
        ("--5", "not-a-number"),
        ("1 25", "not-a-number"),
        ("0x10", "not-a-number"),
        ("1_000", "not-a-number"),
        ("٣", "not-a-number"),
        ("=1+1", "not-a-number"),
        ("5\u202e", "not-a-number"),
        ("\x00", "not-a-number"),
        (".", "not-a-number"),
        ("1,234.5", "ambiguous-number"),
        ("1.234,5", "ambiguous-number"),
        ("1,234", "ambiguous-number"),
        ("1.234.567", "ambiguous-number"),
        ("1e400", "too-large"),
        ("9" * 61, "too-long"),
    ],
)
def test_what_is_not_one_number_is_refused(text: str, code: str) -> None:
    with pytest.raises(Refusal) as caught:
        parse_number(text, "dose_ml")
    assert (caught.value.code, caught.value.field) == (code, "dose_ml")
    assert caught.value.hint


def test_ten_megabytes_are_refused_without_being_echoed() -> None:
    with pytest.raises(Refusal) as caught:
        parse_number("7" * 10_000_000)
    assert len(caught.value.message) < 120


def test_a_writer_who_states_the_comma_is_believed() -> None:
    assert parse_number("37,125", decimal=",") == 37.125
    with pytest.raises(Refusal):
        parse_number("37.125", decimal=",")


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("160 mmHg", "mmHg", 160.0),
        ("160mmHg", "mmHg", 160.0),
        ("38", "°C", 38.0),
        ("100.4 °F", "°C", 38.0),
        ("0,135 L", "mL", 135.0),
        ("5 min", "s", 300.0),
        ("12 Fr", "mm", 4.0),
        ("2 US gal", "US gal", 2.0),
        ("-40 F", "°C", -40.0),
        ("4 mL/L", "%", 0.4),
    ],
)
def test_a_quantity_is_read_in_the_unit_asked_for(text: str, unit: str, value: float) -> None:
    assert parse_in(text, unit) == value


def test_a_quantity_in_si() -> None:
    assert parse_quantity("21.33 kPa", "mmHg") == pytest.approx(21330)
    assert parse_quantity("37", "°C") == pytest.approx(310.15)


@pytest.mark.parametrize(
    ("text", "unit", "code"),
    [
        ("5 kPa", "mL", "wrong-unit"),
        ("5 m", "s", "wrong-unit"),
        ("5 bananas", "mL", "unknown-unit"),
        ("2 gal", "L", "ambiguous-unit"),
        ("2 oz", "mL", "ambiguous-unit"),
        ("-300 °C", "°C", "too-low"),
        ("mL", "mL", "not-a-number"),
        ("", "mL", "empty"),
        ("1,234 mL", "mL", "ambiguous-number"),
    ],
)
def test_a_wrong_quantity_is_refused(text: str, unit: str, code: str) -> None:
    with pytest.raises(Refusal) as caught:
        parse_in(text, unit, "x")
    assert caught.value.code == code
    assert caught.value.field == "x"


def test_a_wrong_unit_names_the_allowed_ones() -> None:
    with pytest.raises(Refusal) as caught:
        parse_quantity("5 kPa", "mL", "water")
    assert "mL, L" in caught.value.hint


@given(st.text(max_size=80))
def test_any_text_is_a_finite_number_or_a_refusal(text: str) -> None:
    try:
        value = parse_quantity(text, "mL", "f")
    except Refusal as refusal:
        assert refusal.message and refusal.field == "f"
    else:
        assert math.isfinite(value)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_what_python_prints_is_read_back(value: float) -> None:
    assert parse_number(repr(value)) == value
