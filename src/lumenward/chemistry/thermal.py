"""Moist heat as A0: seconds at 80 °C that do the same (ISO 15883-1, annex B).

A0 = ∫ 10^((T − 80)/z) dt over the time at or above the floor (65 °C). For machines and heat-stable accessories;
a flexible endoscope does not bear these temperatures, so A0 is never its disinfection.
"""

from __future__ import annotations

import math

from lumenward.chemistry.logs import Log, Segment, segments
from lumenward.quantities import require_between, require_celsius

REFERENCE_C = 80.0
FLOOR_C = 65.0
Z_K = 10.0


def a0(log: Log, floor_c: float = FLOOR_C, z_k: float = Z_K, max_gap_s: float | None = None) -> float:
    """Return A0 in s, exact on the straight lines between readings (s, °C); gaps beyond `max_gap_s` count nothing.

    Each line from T1 to T2 in Δt gives Δt/(κ(T2 − T1)) · (10^((T2−80)/z) − 10^((T1−80)/z)), κ = ln 10 / z, over its
    part above the floor. Raises Refusal for a log that does not run forward, temperatures that cannot be °C.

    >>> round(a0([(0, 80), (600, 80)]), 9), round(a0([(0, 90), (60, 90)]), 9)
    (600.0, 600.0)
    """
    require_celsius(floor_c, 0, 130, "floor_c", "The floor")
    require_between(z_k, 1, 50, "z_k", "A z value", "K")
    total = 0.0
    for line in segments(log):
        for value in (line.x1, line.x2):
            require_celsius(value, -50, 160, "log", "A temperature of a washer")
        if max_gap_s is None or line.duration_s <= max_gap_s:
            total += _lethality(line, floor_c, z_k)
    return total


def _lethality(line: Segment, floor_c: float, z_k: float) -> float:
    above = _above(line, floor_c)
    if above is None:
        return 0.0
    rate = 10 ** ((above.x1 - REFERENCE_C) / z_k)
    growth = (above.x2 - above.x1) * math.log(10) / z_k
    return above.duration_s * rate * (math.expm1(growth) / growth if growth else 1.0)


def _above(line: Segment, floor_c: float) -> Segment | None:
    """Return the part of the line at or above the floor."""
    if max(line.x1, line.x2) < floor_c:
        return None
    if min(line.x1, line.x2) >= floor_c:
        return line
    crossing = line.t1 + (floor_c - line.x1) / (line.x2 - line.x1) * line.duration_s
    if line.x1 < floor_c:
        return Segment(crossing, floor_c, line.t2, line.x2)
    return Segment(line.t1, line.x1, crossing, floor_c)
