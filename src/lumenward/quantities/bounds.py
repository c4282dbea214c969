"""Bounds of what can be meant: a figure outside them is answered with the slip of units that explains it."""

from __future__ import annotations

import math

from lumenward.quantities.refusal import Refusal

_SLIPS = (1e-3, 1e3, 1e-2, 1e2, 1e-6, 1e6)


def require_between(value: float, low: float, high: float, field: str, what: str, unit: str = "") -> float:
    """Return `value` when it lies in [low, high]; otherwise raise Refusal `too-low`, `too-high`, `not-finite`.

    >>> require_between(0.6, 0.05, 3, "length_m", "A sink's length", "m")
    0.6
    >>> try: require_between(60, 0.05, 3, "length_m", "A sink's length", "m")
    ... except Refusal as refusal: print(refusal.hint)
    Did you mean 0.06 or 0.6?
    """
    if not math.isfinite(value):
        raise Refusal("not-finite", f"{what} must be a finite number.", field, "Give a number.")
    if low <= value <= high:
        return value
    meant = [f"{value * slip:.6g}" for slip in _SLIPS if low <= value * slip <= high][:2]
    shown = f" {unit}" if unit else ""
    raise Refusal(
        "too-low" if value < low else "too-high",
        f"{what} lies between {low:g} and {high:g}{shown}; found {value:g}{shown}.",
        field,
        f"Did you mean {' or '.join(meant)}?" if meant else "Check the figure and its unit.",
    )


def require_celsius(value: float, low: float, high: float, field: str, what: str) -> float:
    """Return a temperature in °C when it lies in [low, high]; answer kelvin and Fahrenheit with their °C.

    >>> try: require_celsius(100.4, 0, 60, "start_c", "The sink")
    ... except Refusal as refusal: print(refusal.hint)
    Did you mean 38 °C, which is 100.4 °F?
    """
    if low <= value <= high:
        return value
    if not math.isfinite(value):
        raise Refusal("not-finite", f"{what}: a finite temperature is needed.", field, "Give a number.")
    hint = "Check the figure and its unit."
    for name, celsius in (("K", value - 273.15), ("°F", (value - 32) / 1.8)):
        if value > high and low <= celsius <= high:
            hint = f"Did you mean {celsius:.4g} °C, which is {value:g} {name}?"
            break
    raise Refusal(
        "too-low" if value < low else "too-high",
        f"{what} lies between {low:g} and {high:g} °C; found {value:g} °C.",
        field,
        hint,
    )
