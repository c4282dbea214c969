"""Sanity bounds that answer a mixed-up unit with the number that was probably meant."""

from __future__ import annotations

import math

from lumenward.quantities import Refusal

_SLIPS = (1e-3, 1e3, 1e-6, 1e6, 1e-2, 1e2)


def between(value: float, low: float, high: float, field: str, what: str, unit: str) -> float:
    """Return `value` when `low <= value <= high`; otherwise refuse, with the probable slip of units as hint.

    Raises Refusal `not-finite`, `too-low` or `too-high`.

    >>> between(0.0028, 1e-4, 0.05, "bore_m", "A bore", "m")
    0.0028
    >>> try: between(2.8, 1e-4, 0.05, "bore_m", "A bore", "m")
    ... except Refusal as refusal: print(refusal.hint)
    Did you mean 0.0028?
    """
    if not math.isfinite(value):
        raise Refusal(
            "not-finite", f"{what} must be a finite number; found {value}.", field, "Give a number."
        )
    if low <= value <= high:
        return value
    code = "too-low" if value < low else "too-high"
    shown = f" {unit}" if unit else ""
    allowed = f"{what} must lie between {low:g} and {high:g}{shown}; found {value:g}{shown}."
    return _refuse(code, allowed, field, _probable(value, low, high))


def temperature(value: float, low: float, high: float, field: str, what: str) -> float:
    """Return a temperature in °C inside `low..high`; a kelvin or Fahrenheit figure is answered with its °C.

    >>> try: temperature(293.15, 0, 100, "temperature_c", "The water")
    ... except Refusal as refusal: print(refusal.hint)
    Did you mean 20 °C? 293.15 K is 20 °C.
    """
    if math.isfinite(value) and low <= value <= high:
        return value
    hint = ""
    for name, celsius in (("K", value - 273.15), ("°F", (value - 32.0) / 1.8)):
        if not hint and value > high and low <= celsius <= high:
            hint = f"Did you mean {celsius:.4g} °C? {value:g} {name} is {celsius:.4g} °C."
    found = f"{what} must be between {low:g} and {high:g} °C; found {value:g} °C."
    code = "not-finite" if not math.isfinite(value) else "too-low" if value < low else "too-high"
    return _refuse(code, found, field, hint)


def _probable(value: float, low: float, high: float) -> str:
    fraction = low == 0.0 and high == 1.0
    for factor in (1e-2, *_SLIPS) if fraction else _SLIPS:
        if low <= value * factor <= high:
            return f"Did you mean {value * factor:.6g}?"
    return ""


def _refuse(code: str, message: str, field: str, hint: str) -> float:
    raise Refusal(code, message, field, hint or "Check the figure and its unit.")
