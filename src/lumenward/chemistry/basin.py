"""Carry-over: every endoscope brings rinse water into a basin and takes disinfectant out.

c_n = c0 (V/(V + v))^n e^(−k n/m), v what one endoscope exchanges, k the ageing for each day, m the cycles a day.
v is the whole uncertainty (10 to 300 mL by how well channels were purged): `basin_history` learns it from the
basin's own readings. Nothing here replaces the test of the charge before each use.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from lumenward.quantities import Refusal, require_between

ENDLESS = 1e12  # more cycles than this are as good as no end


@dataclass(frozen=True)
class Basin:
    """One charge of a basin: m³, concentration at the start and lowest allowed one (same unit, here %)."""

    volume_m3: float
    start_percent: float
    minimum_percent: float

    def __post_init__(self) -> None:
        require_between(1000 * self.volume_m3, 0.2, 500, "basin_l", "A basin's volume", "L")
        require_between(self.start_percent, 1e-4, 100, "start_percent", "A concentration", "%")
        require_between(self.minimum_percent, 1e-5, 100, "minimum_percent", "A concentration", "%")
        if self.minimum_percent > self.start_percent:
            raise Refusal(
                "already-below",
                f"{self.start_percent:g} % at the start is already below the minimum of {self.minimum_percent:g} %.",
                "minimum_percent",
                "Discard this charge, or check the two figures.",
            )

    @property
    def reserve(self) -> float:
        """ln(start/minimum): how much fall the charge can bear."""
        return math.log(self.start_percent / self.minimum_percent)


@dataclass(frozen=True)
class CarryOver:
    """How far a charge goes. `cycles_exact` and `last_passing_cycle` are None when nothing ever dilutes it."""

    cycles_exact: float | None
    last_passing_cycle: int | None
    after_last_percent: float | None
    next_percent: float | None


def fall_per_cycle(
    volume_m3: float, carried_m3: float, decay_per_day: float = 0.0, cycles_per_day: float = 0.0
) -> float:
    """Return λ in c_n = c0 e^(−λ n): ln(1 + v/V) plus the ageing that falls on one cycle.

    >>> round(fall_per_cycle(0.010, 100e-6), 9)
    0.009950331
    """
    require_between(1e6 * carried_m3, 0, 2000, "carry_over_ml", "A carry-over", "mL")
    require_between(decay_per_day, 0, 5, "decay_per_day", "An ageing", "per day")
    if decay_per_day == 0:
        return math.log1p(carried_m3 / volume_m3)
    require_between(cycles_per_day, 0.01, 500, "cycles_per_day", "The cycles of a day")
    return math.log1p(carried_m3 / volume_m3) + decay_per_day / cycles_per_day


def percent_after(basin: Basin, fall: float, cycles: float) -> float:
    """Return the concentration after so many cycles, %.

    >>> round(percent_after(Basin(0.010, 0.55, 0.30), math.log(1.01), 60), 4)
    0.3027
    """
    return basin.start_percent * math.exp(-fall * cycles)


def carry_over(basin: Basin, fall: float) -> CarryOver:
    """Return the last cycle whose end still has the minimum, by the fall of one cycle.

    >>> carry_over(Basin(0.010, 0.55, 0.30), math.log(1.01)).last_passing_cycle
    60
    """
    exact = basin.reserve / fall if fall > 0 else math.inf
    if exact > ENDLESS:
        return CarryOver(None, None, None, None)
    last = whole_cycles(exact)
    return CarryOver(exact, last, percent_after(basin, fall, last), percent_after(basin, fall, last + 1))


def whole_cycles(exact: float) -> int:
    """Return the whole cycles in an exact number, forgiving only the last bits of the arithmetic."""
    nearest = round(exact)
    return nearest if abs(exact - nearest) < 1e-9 else math.floor(exact)
