"""What is still in a channel, and what still leaves it, after some channel volumes of clean water.

Three pictures of one tube, each a bound or an idealisation of the real channel:

- laminar convection: every layer keeps its own speed and nothing mixes across. The slow layer at the wall
  makes it the cautious bound.
- closed dispersion: plug flow blurred by axial mixing, nothing mixing across the two ends.
- stirred: a vessel that is mixed all the time, such as a basin or a trap.

`volumes` is the number of channel volumes pumped since the clean water came in. The outlet fraction is the
strength at the distal end over the strength before; the left fraction is the mean inside the channel.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from lumenward.hydraulics import dispersion
from lumenward.quantities import Refusal

MODELS = ("laminar-convection", "closed-dispersion", "stirred")
RADIAL_TIME_LIMIT = 0.04
TAYLOR_RADIAL_TIME = 0.5
TURBULENT_REYNOLDS = 20_000.0

# Rows: volumes over the convection limit, then the least and the greatest factor on the left fraction of pure
# convection. Envelope of our own random walks (60,000 particles, radial times 0.0003 to 0.04).
_THINNING = (
    (0.0, 1.0, 1.0),
    (0.5, 0.955, 1.0),
    (0.6, 0.93, 0.995),
    (0.7, 0.885, 0.975),
    (0.8, 0.825, 0.945),
    (0.9, 0.765, 0.90),
    (1.0, 0.69, 0.84),
    (1.2, 0.545, 0.70),
    (1.4, 0.385, 0.545),
    (1.6, 0.255, 0.395),
    (1.8, 0.155, 0.27),
    (2.0, 0.09, 0.175),
    (2.3, 0.03, 0.082),
    (2.6, 0.009, 0.032),
    (3.0, 0.001, 0.0075),
    (3.5, 0.0, 0.0025),
)


@dataclass(frozen=True)
class Washout:
    """Fractions of the start, each in 0 to 1; `exited` is the step response F, one less the outlet fraction."""

    outlet: float
    left: float

    @property
    def exited(self) -> float:
        return 1.0 - self.outlet


def washout(model: str, volumes: float, peclet: float | None = None) -> Washout:
    """Return outlet and left fraction by one of `MODELS`; `peclet` (u L / D) is for closed dispersion alone.

    Raises Refusal `not-valid`, `missing` or `too-low`.

    >>> round(washout("laminar-convection", 2.0).exited, 4)
    0.9375
    >>> round(washout("closed-dispersion", 1.0, 2.0).exited, 4)
    0.6241
    """
    if model == "laminar-convection":
        return laminar_convection(volumes)
    if model == "stirred":
        return stirred(volumes)
    if model != "closed-dispersion":
        raise Refusal(
            "not-valid", f"There is no washout model {model!r}.", "model", "One of: " + ", ".join(MODELS)
        )
    if peclet is None:
        raise Refusal(
            "missing", "Closed dispersion needs a Peclet number.", "peclet", "Add peclet = u L / D."
        )
    return closed_dispersion(volumes, peclet)


def laminar_convection(volumes: float) -> Washout:
    """Return the pure convection bound of laminar flow in a round tube: no diffusion, no entrance.

    Outlet 1/(4 v^2) and left 1/(4 v) once v >= 1/2; before that nothing but old liquid leaves. Source: the
    parabolic profile, closed form (Levenspiel, Chemical Reaction Engineering, convection model; recalled).

    >>> laminar_convection(5.0)
    Washout(outlet=0.01, left=0.05)
    """
    _not_negative(volumes, "volumes", "The number of volumes")
    if volumes < 0.5:
        return Washout(1.0, 1.0 - volumes)
    return Washout(0.25 / volumes / volumes, 0.25 / volumes)


def laminar_residence_density(volumes: float) -> float:
    """Return E = 1/(2 v^3) of laminar convection, per channel volume; zero before half a volume.

    >>> laminar_residence_density(1.0)
    0.5
    """
    _not_negative(volumes, "volumes", "The number of volumes")
    return 0.0 if volumes < 0.5 else 0.5 / volumes**3


def stirred(volumes: float) -> Washout:
    """Return exp(-v) for outlet and left alike: a vessel mixed all the time.

    >>> round(stirred(1.0).left, 6)
    0.367879
    """
    _not_negative(volumes, "volumes", "The number of volumes")
    return Washout(math.exp(-volumes), math.exp(-volumes))


def closed_dispersion(volumes: float, peclet: float) -> Washout:
    """Return the washout of a tube with axial mixing, closed to mixing at both ends (Danckwerts), any Peclet.

    Source: Brenner, Chem. Eng. Sci. 17 (1962) 229, series (recalled); above Peclet 20 the first image alone,
    whose neglected rest is of the order exp(-Peclet).

    >>> closed_dispersion(1.0, 1e9).outlet > 0.49
    True
    """
    _not_negative(volumes, "volumes", "The number of volumes")
    if not (math.isfinite(peclet) and peclet > 0.0):
        raise Refusal("too-low", f"A Peclet number must be above zero; found {peclet:g}.", "peclet", "")
    outlet, left = dispersion.closed(volumes, peclet)
    return Washout(min(max(outlet, 0.0), 1.0), min(max(left, 0.0), 1.0))


def radial_time(diffusivity_m2_s: float, bore_m: float, length_m: float, velocity_m_s: float) -> float:
    """Return D L / (u R^2): how much of the radius diffusion crosses while the mean flow crosses the tube.

    >>> round(radial_time(1e-9, 0.0012, 2.7, 0.5), 3)
    0.015
    """
    for value, field in (
        (diffusivity_m2_s, "diffusivity_m2_s"),
        (bore_m, "bore_m"),
        (length_m, "length_m"),
        (velocity_m_s, "velocity_m_s"),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise Refusal("too-low", f"{field} must be above zero; found {value:g}.", field, "")
    return diffusivity_m2_s * length_m / (velocity_m_s * (bore_m / 2.0) ** 2)


def convection_limit(tau: float) -> float:
    """Return the volumes up to which pure convection tells the left fraction within about 30 %: (16 tau)^(-1/3).

    Diffusion has crossed the wall layer still to leave (R / 4v thick) by then. Own derivation, held against our
    random walk; beyond it pure convection is a bound far on the cautious side.

    >>> round(convection_limit(0.015), 2)
    1.61
    """
    if not (math.isfinite(tau) and tau > 0.0):
        raise Refusal("too-low", f"The radial time must be above zero; found {tau:g}.", "radial_time", "")
    return float((16.0 * tau) ** (-1.0 / 3.0))


def laminar_with_diffusion(volumes: float, tau: float) -> tuple[float, float]:
    """Return least and greatest left fraction of laminar flow with diffusion across, for tau up to 0.04.

    Raises Refusal `outside-validity` for a larger radial time: use dispersion there.

    >>> low, high = laminar_with_diffusion(3.0, 0.015)
    >>> low < 0.0168 < high
    True
    """
    if tau > RADIAL_TIME_LIMIT:
        raise Refusal(
            "outside-validity",
            f"The diffusion correction holds up to a radial time of {RADIAL_TIME_LIMIT:g}; found {tau:.3g}.",
            "radial_time",
            "Use closed-dispersion, with Taylor's axial mixing above a radial time of 0.5.",
        )
    pure = laminar_convection(volumes).left
    position = volumes / convection_limit(tau)
    return pure * _between_rows(position, 1), pure * _between_rows(position, 2)


def taylor_aris(diffusivity_m2_s: float, velocity_m_s: float, bore_m: float) -> float:
    """Return the axial mixing D (1 + Pe^2/192), m2/s, Pe = u d / D, of laminar flow in a round tube.

    Holds only when the radial time D L/(u R^2) is above about 0.5 (recalled: Ananthakrishnan, Levenspiel).

    >>> round(taylor_aris(1e-9, 0.001, 0.001) * 1e9, 2)
    5209.33
    """
    peclet = velocity_m_s * bore_m / diffusivity_m2_s
    return diffusivity_m2_s * (1.0 + peclet * peclet / 192.0)


def taylor_aris_holds(tau: float) -> bool:
    """Return whether the radial time is long enough for Taylor's axial mixing.

    >>> taylor_aris_holds(0.015)
    False
    """
    return tau >= TAYLOR_RADIAL_TIME


def turbulent_mixing(velocity_m_s: float, bore_m: float, friction_factor: float) -> float:
    """Return Taylor's axial mixing of turbulent flow, 10.1 R u sqrt(f/8), m2/s; f is Darcy's.

    Taylor 1954 (recalled); deviates markedly below Reynolds 20,000, that is in every channel here: an order
    of magnitude, not a figure.

    >>> round(turbulent_mixing(1.0, 0.004, 0.03), 6)
    0.001237
    """
    return 10.1 * (bore_m / 2.0) * velocity_m_s * math.sqrt(friction_factor / 8.0)


def moments(times: Sequence[float], strengths: Sequence[float]) -> tuple[float, float]:
    """Return mean and variance of a pulse response read at equal steps of time.

    Raises Refusal `not-valid` for unequal lengths or a response that is zero everywhere.

    >>> moments([0, 5, 10, 15, 20, 25, 30, 35], [0, 3, 5, 5, 4, 2, 1, 0])
    (15.0, 47.5)
    """
    total = sum(strengths)
    if len(times) != len(strengths) or total <= 0.0:
        raise Refusal(
            "not-valid", "A response needs as many times as strengths, not all zero.", "strengths", ""
        )
    mean = sum(t * c for t, c in zip(times, strengths, strict=True)) / total
    return mean, sum((t - mean) ** 2 * c for t, c in zip(times, strengths, strict=True)) / total


def peclet_from_variance(variance_over_mean_squared: float) -> float:
    """Return the Peclet number whose closed-vessel variance is the given one, above 0 and below 1.

    >>> round(1 / peclet_from_variance(0.2111), 3)
    0.12
    """
    target = variance_over_mean_squared
    if not 0.0 < target < 1.0:
        raise Refusal(
            "out-of-range", f"A variance over mean squared lies in 0 to 1; found {target:g}.", "variance", ""
        )
    low, high = -30.0, 300.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if dispersion.closed_variance(math.exp(middle)) > target else (low, middle)
    return math.exp(0.5 * (low + high))


def _between_rows(position: float, column: int) -> float:
    last = _THINNING[-1]
    if position >= last[0]:
        return last[column]
    for before, after in pairwise(_THINNING):
        if position <= after[0]:
            share = (position - before[0]) / (after[0] - before[0])
            return before[column] + share * (after[column] - before[column])
    return last[column]


def _not_negative(value: float, field: str, what: str) -> None:
    if not (math.isfinite(value) and value >= 0.0):
        raise Refusal("too-low", f"{what} must be zero or more; found {value:g}.", field, "")
