"""How many fills of clean water it takes, each followed by a purge, to come down to a strength."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lumenward.hydraulics import bounds
from lumenward.quantities import Refusal

LEAST_PPM = 1e-12
UNDILUTED_PPM = 1e6


@dataclass(frozen=True)
class FlowThrough:
    """Channel volumes to the same target when water runs through without a purge between."""

    stirred: float
    laminar_outlet: float
    laminar_left: float


def fills_to(start_ppm: float, left_fraction: float, target_ppm: float) -> int:
    """Return the least n with start x left^n at or below the target, perfect mixing in each fill.

    A start that already meets the target needs none. `left_fraction` is what each purge leaves, above 0 and
    below 1. Refuses a target that is zero or above the start, and strengths outside 1e-12 to 1e6 ppm.

    >>> fills_to(5000, 0.10, 10)
    3
    """
    _check(start_ppm, left_fraction, target_ppm)
    exact = math.log(start_ppm / target_ppm) / -math.log(left_fraction)
    return max(0, math.ceil(exact - 1e-9))


def after_fills(start_ppm: float, left_fraction: float, fills: int) -> float:
    """Return the strength in ppm after a number of fills and purges.

    >>> round(after_fills(5000, 0.10, 3), 9)
    5.0
    """
    return start_ppm * left_fraction**fills


def flow_through(start_ppm: float, target_ppm: float) -> FlowThrough:
    """Return the volumes to the target without a purge: stirred, outlet and mean of pure laminar convection.

    >>> volumes = flow_through(5000, 10)
    >>> round(volumes.stirred, 1), round(volumes.laminar_outlet, 1), round(volumes.laminar_left, 1)
    (6.2, 11.2, 125.0)
    """
    _check(start_ppm, 0.5, target_ppm)
    ratio = start_ppm / target_ppm
    return FlowThrough(
        stirred=math.log(ratio),
        laminar_outlet=0.5 * math.sqrt(ratio) if ratio > 1.0 else 0.0,
        laminar_left=0.25 * ratio if ratio >= 2.0 else 1.0 - 1.0 / ratio,
    )


def _check(start_ppm: float, left_fraction: float, target_ppm: float) -> None:
    for value, field in ((start_ppm, "start_ppm"), (target_ppm, "target_ppm")):
        if not (math.isfinite(value) and value > 0.0):
            raise Refusal(
                "too-low", f"{field} must be above zero; found {value:g}.", field, "Nothing is ever zero."
            )
        bounds.between(value, LEAST_PPM, UNDILUTED_PPM, field, "A strength", "ppm")
    if not 0.0 < left_fraction < 1.0:
        raise Refusal(
            "out-of-range",
            f"The fraction left by a purge lies between 0 and 1; found {left_fraction:g}.",
            "left_fraction",
            f"Did you mean {left_fraction / 100:g}?"
            if 1.0 < left_fraction < 100.0
            else "Purges leave 0.05 to 0.35.",
        )
    if target_ppm > start_ppm:
        raise Refusal(
            "target-above-start",
            f"The target of {target_ppm:g} ppm is above the start of {start_ppm:g} ppm; rinsing only lowers it.",
            "target_ppm",
            "Give a target at or below the start.",
        )
