"""What tolerances of a ruler do to a volume."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from lumenward.chemistry.uncertainty import rectangular
from lumenward.chemistry.vessels import Vessel
from lumenward.quantities import require_between

# Which sides of a shape a tolerance of "length" or "width" moves; both rims of a tapered sink move together.
_LENGTHS = ("length_m", "bottom_length_m", "top_length_m", "straight_m")
_WIDTHS = ("width_m", "bottom_width_m", "top_width_m", "diameter_m")
_STEP = 1e-6


def volume_spread(vessel: Vessel, fill_m: float, half_widths: Mapping[str, float]) -> dict[str, float]:
    """Return the standard uncertainty (m³) that each rectangular half width brings into the volume at `fill_m`.

    Keys of `half_widths` and of the answer: `fill_m`, `length_m`, `width_m` (m). Raises Refusal for a tolerance of
    half the fill or more than 5 cm of a side.

    >>> from lumenward.chemistry.vessels import Box
    >>> round(1e6 * volume_spread(Box(0.6, 0.45), 0.2, {"fill_m": 0.005})["fill_m"], 1)
    779.4
    """
    spread = {}
    for key, half in half_widths.items():
        highest = fill_m / 2 if key == "fill_m" else 0.05
        require_between(half, 0, highest, f"tolerances.{key}", "A tolerance", "m")
        slope = _fill_slope(vessel, fill_m) if key == "fill_m" else _side_slope(vessel, fill_m, key)
        spread[key] = abs(slope) * rectangular(half)
    return spread


def _fill_slope(vessel: Vessel, fill_m: float) -> float:
    upper = min(fill_m * (1 + _STEP), vessel.highest_m)
    lower = fill_m * (1 - _STEP)
    return (vessel.volume_m3(upper) - vessel.volume_m3(lower)) / (upper - lower)


def _side_slope(vessel: Vessel, fill_m: float, key: str) -> float:
    wanted = _LENGTHS if key == "length_m" else _WIDTHS
    shape: Any = vessel
    sides = {field.name: getattr(shape, field.name) for field in fields(shape) if field.name in wanted}
    wider = replace(shape, **{name: value + _STEP for name, value in sides.items()})
    narrower = replace(shape, **{name: value - _STEP for name, value in sides.items()})
    change = wider.volume_m3(fill_m) - narrower.volume_m3(fill_m)
    return float(change / (2 * _STEP))
