"""How long a sink stays warm enough, and how to fill it at the right temperature. °C, s, kg."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lumenward.quantities import Refusal, require_between, require_celsius

WATER_HEAT_J_KG_K = 4180.0
WATER_RANGE_C = (0.0, 100.0)


def temperature_at(start_c: float, ambient_c: float, time_constant_s: float, time_s: float) -> float:
    """Return T = Ta + (T0 − Ta) e^(−t/τ), Newton's law of cooling.

    >>> temperature_at(43, 21, 5400, 0)
    43.0
    """
    return ambient_c + (start_c - ambient_c) * math.exp(-time_s / time_constant_s)


def time_to_limit(start_c: float, ambient_c: float, limit_c: float, time_constant_s: float) -> float | None:
    """Return the seconds until the sink reaches the limit on its way to the room's temperature.

    t = τ ln((T0 − Ta)/(Tl − Ta)). The limit of a cooling sink is a lower one, of a warming sink an upper one: 0
    when it is already reached, None when the room's temperature lies before it, so that it never is.

    >>> round(time_to_limit(43, 21, 35, 5400) / 60, 2)
    40.68
    """
    for value, field in ((start_c, "start_c"), (ambient_c, "ambient_c"), (limit_c, "limit_c")):
        require_celsius(value, *WATER_RANGE_C, field, "A temperature of water or room")
    require_between(time_constant_s, 30, 1e6, "time_constant_s", "A sink's time constant", "s")
    start, limit = start_c - ambient_c, limit_c - ambient_c
    if start * limit <= 0:
        return 0.0 if start == limit else None
    return 0.0 if abs(start) <= abs(limit) else time_constant_s * math.log(start / limit)


@dataclass(frozen=True)
class TimeConstant:
    """A time constant learned from two readings, with its standard uncertainty, s."""

    value_s: float
    u_s: float


def learn_time_constant(
    first: tuple[float, float], second: tuple[float, float], ambient_c: float, reading_u_c: float
) -> TimeConstant:
    """Return τ = Δt / ln((T1 − Ta)/(T2 − Ta)) from two (s, °C) readings and the thermometer's uncertainty.

    Raises Refusal `not-cooling` unless the second reading is later and nearer to the room's temperature by more
    than twice the uncertainty: from less, nothing can be learned.

    >>> round(learn_time_constant((0, 43), (2440.8, 35), 21, 0.1).value_s)
    5400
    """
    (t1, c1), (t2, c2) = first, second
    above1, above2 = c1 - ambient_c, c2 - ambient_c
    if t2 <= t1 or above1 * above2 <= 0 or abs(above1) - abs(above2) <= 2 * reading_u_c:
        raise Refusal(
            "not-cooling",
            f"From {c1:g} °C to {c2:g} °C in {t2 - t1:g} s in a room of {ambient_c:g} °C nothing can be learned.",
            "readings",
            "Wait longer between the two readings; measure in the middle of the sink.",
        )
    fall = math.log(above1 / above2)
    u_fall = reading_u_c * math.hypot(1 / above1, 1 / above2)
    value = (t2 - t1) / fall
    return TimeConstant(value, value * u_fall / fall)


@dataclass(frozen=True)
class Vessel:
    """The body that is warmed along: its mass, its temperature and its heat capacity."""

    mass_kg: float
    temperature_c: float
    heat_j_kg_k: float


def hot_fraction(hot_c: float, cold_c: float, target_c: float) -> float:
    """Return the share of hot water that mixes to the target, 0 to 1.

    Raises Refusal when hot is not above cold, or the target does not lie between them.

    >>> hot_fraction(60, 10, 38)
    0.56
    """
    for value, field in ((hot_c, "hot_c"), (cold_c, "cold_c"), (target_c, "target_c")):
        require_celsius(value, *WATER_RANGE_C, field, "A temperature of water")
    if hot_c <= cold_c:
        raise Refusal(
            "not-hotter", f"Hot ({hot_c:g} °C) must be above cold ({cold_c:g} °C).", "hot_c", "Swap the two?"
        )
    if not cold_c <= target_c <= hot_c:
        raise Refusal(
            "out-of-reach",
            f"{target_c:g} °C cannot be mixed from {cold_c:g} and {hot_c:g} °C.",
            "target_c",
            f"Choose a target between {cold_c:g} and {hot_c:g} °C.",
        )
    return (target_c - cold_c) / (hot_c - cold_c)


def with_vessel(water_c: float, water_kg: float, vessel: Vessel) -> float:
    """Return the temperature after water and vessel have come to the same one.

    >>> round(with_vessel(38, 10, Vessel(4, 20, 500)), 2)
    37.18
    """
    water, body = water_kg * WATER_HEAT_J_KG_K, vessel.mass_kg * vessel.heat_j_kg_k
    return (water * water_c + body * vessel.temperature_c) / (water + body)


def water_for_target(target_c: float, water_kg: float, vessel: Vessel) -> float:
    """Return how warm the water must be so that water and vessel end at the target, °C.

    >>> round(with_vessel(water_for_target(38, 10, Vessel(4, 20, 500)), 10, Vessel(4, 20, 500)), 9)
    38.0
    """
    body = vessel.mass_kg * vessel.heat_j_kg_k
    return target_c + body * (target_c - vessel.temperature_c) / (water_kg * WATER_HEAT_J_KG_K)


def water_to_add(volume_m3: float, now_c: float, wanted_c: float, tap_c: float) -> float:
    """Return how much tap water (m³) brings a sink from `now_c` to `wanted_c`; it dilutes what is in it.

    Raises Refusal `out-of-reach` when the tap is not beyond the wanted temperature.

    >>> water_to_add(0.020, 32.0, 36.0, 56.0)
    0.004
    """
    needed, offered = wanted_c - now_c, tap_c - wanted_c
    if needed == 0:
        return 0.0
    if needed * offered <= 0:
        raise Refusal(
            "out-of-reach",
            f"Water of {tap_c:g} °C cannot bring {now_c:g} °C to {wanted_c:g} °C.",
            "tap_c",
            "Use warmer or colder water.",
        )
    return volume_m3 * needed / offered
