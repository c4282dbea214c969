"""What a sink holds at a given fill, and the fill for a given volume. Lengths in m, volumes in m³."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

from lumenward.quantities import Refusal, require_between

_PLAUSIBLE_SIDE = (0.05, 3.0)
_PLAUSIBLE_FILL = (0.005, 1.0)


class Vessel(Protocol):
    """Anything with a volume at a fill and a highest fill."""

    @property
    def highest_m(self) -> float:
        """Highest fill that the shape knows, m."""
        ...

    def volume_m3(self, fill_m: float) -> float:
        """Volume at `fill_m`, m³."""
        ...


def _side(value: float, field: str) -> None:
    require_between(value, *_PLAUSIBLE_SIDE, field, "A side of a sink", "m")


@dataclass(frozen=True)
class Box:
    """Straight walls: V = length · width · fill."""

    length_m: float
    width_m: float
    highest_m: float = _PLAUSIBLE_FILL[1]

    def __post_init__(self) -> None:
        _side(self.length_m, "length_m")
        _side(self.width_m, "width_m")

    def volume_m3(self, fill_m: float) -> float:
        """Return the volume at `fill_m`.

        >>> round(Box(0.6, 0.45).volume_m3(0.2), 6)
        0.054
        """
        return self.length_m * self.width_m * fill_m


@dataclass(frozen=True)
class Tapered:
    """Walls that lean outwards evenly from a bottom rectangle to a top rectangle `height_m` above it.

    V = a b h + (a b' + b a') h²/2 + a' b' h³/3, a' and b' the growth of the sides for each metre of fill.
    """

    bottom_length_m: float
    bottom_width_m: float
    top_length_m: float
    top_width_m: float
    height_m: float

    def __post_init__(self) -> None:
        for field in ("bottom_length_m", "bottom_width_m", "top_length_m", "top_width_m"):
            _side(getattr(self, field), field)
        require_between(self.height_m, 0.02, _PLAUSIBLE_FILL[1], "height_m", "A sink's height", "m")

    @property
    def highest_m(self) -> float:
        """Highest fill, m."""
        return self.height_m

    def volume_m3(self, fill_m: float) -> float:
        """Return the volume at `fill_m`.

        >>> round(Tapered(0.5, 0.4, 0.6, 0.5, 0.3).volume_m3(0.3), 6)
        0.0745
        """
        a, b = self.bottom_length_m, self.bottom_width_m
        da = (self.top_length_m - a) / self.height_m
        db = (self.top_width_m - b) / self.height_m
        return a * b * fill_m + (a * db + b * da) * fill_m**2 / 2 + da * db * fill_m**3 / 3


@dataclass(frozen=True)
class Stadium:
    """Straight walls over a rectangle with a half circle at each end: V = (straight · width + π width²/4) · fill."""

    straight_m: float
    width_m: float
    highest_m: float = _PLAUSIBLE_FILL[1]

    def __post_init__(self) -> None:
        require_between(
            self.straight_m, 0, _PLAUSIBLE_SIDE[1], "straight_m", "The straight part of a sink", "m"
        )
        _side(self.width_m, "width_m")

    def volume_m3(self, fill_m: float) -> float:
        """Return the volume at `fill_m`.

        >>> round(1000 * Stadium(0.4, 0.4).volume_m3(0.2), 3)
        57.133
        """
        return (self.straight_m * self.width_m + math.pi * self.width_m**2 / 4) * fill_m


@dataclass(frozen=True)
class LyingCylinder:
    """A round trough on its side: V = length · [r² acos((r − h)/r) − (r − h) √(2 r h − h²)]."""

    diameter_m: float
    length_m: float

    def __post_init__(self) -> None:
        _side(self.diameter_m, "diameter_m")
        _side(self.length_m, "length_m")

    @property
    def highest_m(self) -> float:
        """Highest fill, m."""
        return self.diameter_m

    def volume_m3(self, fill_m: float) -> float:
        """Return the volume at `fill_m`.

        >>> round(1000 * LyingCylinder(0.5, 0.6).volume_m3(0.2), 3)
        44.005
        """
        r = self.diameter_m / 2
        above = min(max((r - fill_m) / r, -1.0), 1.0)
        return self.length_m * r**2 * (math.acos(above) - above * math.sqrt(1 - above**2))


def volume(vessel: Vessel, fill_m: float, field: str = "fill_m") -> float:
    """Return the volume in m³ at a fill that the vessel can have.

    Raises Refusal `too-low` for a fill of nothing, `too-high` above the vessel's rim or above 1 m.
    """
    if 0 < vessel.highest_m < fill_m <= 10 * vessel.highest_m and fill_m <= _PLAUSIBLE_FILL[1]:
        raise Refusal(
            "too-high",
            f"A fill of {fill_m:g} m is higher than this sink, which ends at {vessel.highest_m:g} m.",
            field,
            "Measure the fill from the bottom.",
        )
    highest = min(vessel.highest_m, _PLAUSIBLE_FILL[1])
    require_between(fill_m, _PLAUSIBLE_FILL[0], highest, field, "A fill", "m")
    return vessel.volume_m3(fill_m)


def fill_for(vessel: Vessel, volume_m3: float, field: str = "volume_l") -> float:
    """Return the fill in m at which the vessel holds `volume_m3`.

    Bisection on a volume that only grows with the fill; to 1e-12 of the vessel's height. Raises Refusal
    `too-high` when the vessel cannot hold so much, `too-low` for nothing.

    >>> round(fill_for(Box(0.6, 0.45), 0.054), 9)
    0.2
    """
    most = vessel.volume_m3(vessel.highest_m)
    if not 0 < volume_m3 <= most:
        raise Refusal(
            "too-high" if volume_m3 > most else "too-low",
            f"This sink holds up to {1000 * most:.4g} L; {1000 * volume_m3:.4g} L is asked for.",
            field,
            "Ask for less, or measure the sink again.",
        )
    low, high = 0.0, vessel.highest_m
    while high - low > 1e-12 * vessel.highest_m:
        middle = (low + high) / 2
        low, high = (middle, high) if vessel.volume_m3(middle) < volume_m3 else (low, middle)
    return high
