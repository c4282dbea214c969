"""How much concentrate for this much water, and what concentration that makes, with its uncertainty.

A label states its dilution in one of seven ways. They look alike and differ by up to a quarter, so the way is
always said and never guessed. Fractions are volume in volume of the finished solution.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from lumenward.chemistry.uncertainty import rectangular, shares
from lumenward.quantities import Refusal, require_between

Kind = Literal[
    "ml_per_l_water",
    "ml_per_l_solution",
    "percent_v_v",
    "one_to_n",
    "one_in_n",
    "us_oz_per_gal",
    "imp_oz_per_gal",
]
KINDS: tuple[Kind, ...] = get_args(Kind)

# What a value of each kind is as a ratio: of concentrate to water, or of concentrate to finished solution.
_TO_WATER: dict[str, Callable[[float], float]] = {
    "ml_per_l_water": lambda a: a / 1000,
    "one_to_n": lambda n: 1 / n,
    "us_oz_per_gal": lambda a: a / 128,
    "imp_oz_per_gal": lambda a: a / 160,
}
_OF_SOLUTION: dict[str, Callable[[float], float]] = {
    "ml_per_l_solution": lambda a: a / 1000,
    "percent_v_v": lambda a: a / 100,
    "one_in_n": lambda n: 1 / n,
}
_PLAUSIBLE = {
    "ml_per_l_water": (0.01, 1000.0),
    "ml_per_l_solution": (0.01, 900.0),
    "percent_v_v": (0.001, 90.0),
    "one_to_n": (0.5, 10000.0),
    "one_in_n": (1.1, 10000.0),
    "us_oz_per_gal": (0.005, 128.0),
    "imp_oz_per_gal": (0.005, 160.0),
}
SENTENCES = MappingProxyType(
    {
        "ml_per_l_water": "{value:g} mL of concentrate to each litre of water",
        "ml_per_l_solution": "{value:g} mL of concentrate in each litre of finished solution",
        "percent_v_v": "{value:g} % of the finished solution is concentrate",
        "one_to_n": "1 part of concentrate to {value:g} parts of water",
        "one_in_n": "1 part of concentrate in {value:g} parts of finished solution",
        "us_oz_per_gal": "{value:g} US fl oz of concentrate to each US gallon of water",
        "imp_oz_per_gal": "{value:g} imperial fl oz of concentrate to each imperial gallon of water",
    }
)


@dataclass(frozen=True)
class Dilution:
    """What the label says: its way of saying it and its number."""

    kind: Kind
    value: float

    def __post_init__(self) -> None:
        if self.kind not in KINDS:
            raise Refusal(
                "unknown-dilution",
                f"There is no dilution {str(self.kind)[:20]!r}.",
                "dilution.kind",
                "One of: " + ", ".join(KINDS) + ". Choose the one the label means.",
            )
        low, high = _PLAUSIBLE[self.kind]
        require_between(self.value, low, high, "dilution.value", f"A dilution in {self.kind}")

    @property
    def counts_solution(self) -> bool:
        """Whether the label counts finished solution (True) or the water before dosing (False)."""
        return self.kind in _OF_SOLUTION

    @property
    def fraction(self) -> float:
        """Concentrate in the finished solution, v/v.

        >>> Dilution("one_to_n", 4).fraction, Dilution("one_in_n", 4).fraction
        (0.2, 0.25)
        """
        if self.counts_solution:
            return _OF_SOLUTION[self.kind](self.value)
        ratio = _TO_WATER[self.kind](self.value)
        return ratio / (1 + ratio)

    @property
    def per_water(self) -> float:
        """Concentrate for one part of water, v/v.

        >>> Dilution("us_oz_per_gal", 1).per_water * 1000
        7.8125
        """
        if self.counts_solution:
            return self.fraction / (1 - self.fraction)
        return _TO_WATER[self.kind](self.value)

    def sentence(self) -> str:
        """Return the dilution in words, so that a person can hold it against the label."""
        return SENTENCES[self.kind].format(value=self.value)


@dataclass(frozen=True)
class Fill:
    """The volume that stands in the sink, m³, and whether that is water or already the finished solution."""

    volume_m3: float
    is_solution: bool = False


def dose_m3(dilution: Dilution, fill: Fill) -> float:
    """Return the concentrate for a fill, m³.

    For water: water · r, r the concentrate to one part of water. For a fill that counts as finished solution:
    volume · f. Source of the worked case: a published training page, 60 mL in 15 L is 4 mL/L (read).

    >>> round(1e6 * dose_m3(Dilution("ml_per_l_water", 4), Fill(0.015)), 9)
    60.0
    """
    return fill.volume_m3 * (dilution.fraction if fill.is_solution else dilution.per_water)


def concentration(concentrate_m3: float, fill: Fill) -> float:
    """Return what the dispensed concentrate makes of this fill, v/v of the finished solution (0 to 1).

    >>> concentration(135e-6, Fill(0.054, is_solution=True))
    0.0025
    """
    return concentrate_m3 / _total(concentrate_m3, fill)


@dataclass(frozen=True)
class Spread:
    """A concentration and what is not known about it; all v/v. `shares` are of the variance, by source."""

    value: float
    u: float
    low: float
    high: float
    shares: dict[str, float]


# The GUM's round factor for about 95 %: a little wide for a spread made of rectangular parts, never too narrow.
COVERAGE_FACTOR = 2.0


def concentration_spread(
    concentrate_m3: float, fill: Fill, dose_half_m3: float, volume_u_m3: dict[str, float]
) -> Spread:
    """Return the concentration with standard uncertainty and about-95 % interval (GUM, first order, k = 2).

    `dose_half_m3` is the rectangular half width of the dispensed volume, `volume_u_m3` the standard uncertainty
    that each source brings into the fill's volume. c = d/(W + d) over water, c = d/V over a finished solution.

    >>> spread = concentration_spread(135e-6, Fill(0.054, True), 2e-6, {"fill_m": 0.054 * 0.005 / 0.2 / 3**0.5})
    >>> round(1e6 * spread.value), round(1e6 * spread.u, 1)
    (2500, 41.9)
    """
    total = _total(concentrate_m3, fill)
    by_dose = 1 / total if fill.is_solution else fill.volume_m3 / total**2
    by_volume = concentrate_m3 / total**2
    parts = {"dose_ml": by_dose * rectangular(dose_half_m3)}
    parts |= {name: by_volume * u for name, u in volume_u_m3.items()}
    value = concentrate_m3 / total
    u = sum(part**2 for part in parts.values()) ** 0.5
    return Spread(
        value, u, max(0.0, value - COVERAGE_FACTOR * u), min(1.0, value + COVERAGE_FACTOR * u), shares(parts)
    )


def _total(concentrate_m3: float, fill: Fill) -> float:
    return fill.volume_m3 if fill.is_solution else fill.volume_m3 + concentrate_m3
