"""The tube with axial mixing that is closed to mixing at both ends, for any Peclet number.

With G(s) = 4a e^(Pe/2) / ((1+a)^2 e^(a Pe/2) - (1-a)^2 e^(-a Pe/2)), a = sqrt(1 + 4s/Pe), the outlet is the
step response of 1 - G. For small Pe the poles give Brenner's series. For larger Pe the second exponential (the
image of the far end) is of the order e^-Pe; what is left is inverted exactly: along the line through the saddle
a = 1/v + iy the exponent is a pure Gaussian in y, and only a smooth rational function has to be integrated.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

IMAGE_PECLET = 20.0
STIRRED_PECLET = 1e-9
_MOST_TERMS = 20_000
_FAR = 26.0  # exp(-26^2) is no longer a double


def closed(volumes: float, peclet: float) -> tuple[float, float]:
    """Return outlet fraction and left fraction after `volumes` at `peclet` (u L / D, above zero).

    >>> [round(x, 4) for x in closed(1.0, 40.0)]
    [0.4565, 0.087]
    """
    if volumes <= 0.0:
        return 1.0, 1.0
    if peclet < STIRRED_PECLET:
        return math.exp(-volumes), math.exp(-volumes)
    return _by_image(volumes, peclet) if peclet >= IMAGE_PECLET else _by_series(volumes, peclet)


def closed_variance(peclet: float) -> float:
    """Return the variance over mean squared of the pulse response: 2/Pe - 2/Pe^2 (1 - e^-Pe).

    Source: van der Laan 1958, in every textbook of reaction engineering (recalled).

    >>> round(closed_variance(40.0), 5)
    0.04875
    """
    if peclet < 1e-2:
        return 1.0 - peclet / 3.0 + peclet * peclet / 12.0 - peclet**3 / 60.0
    return 2.0 / peclet + 2.0 / peclet / peclet * math.expm1(-peclet)


def open_variance(peclet: float) -> float:
    """Return the variance over mean squared when both ends are open to mixing: 2/Pe + 8/Pe^2.

    >>> open_variance(40.0)
    0.055
    """
    return 2.0 / peclet + 8.0 / peclet / peclet


def _by_series(volumes: float, peclet: float) -> tuple[float, float]:
    quarter = peclet / 4.0
    wanted = math.sqrt(quarter * (40.0 + 2.0 * quarter) / volumes) / (math.pi / 2.0)
    if wanted > _MOST_TERMS:
        return 1.0, 1.0 - volumes
    roots = _roots(quarter, 16 + math.ceil(wanted))
    rates = quarter + roots * roots / quarter
    weights = roots * np.sin(2.0 * roots) / (roots * roots + quarter * quarter + quarter)
    terms = weights * np.exp(2.0 * quarter - rates * volumes)
    return float(terms.sum()), float((terms / rates).sum())


def _roots(quarter: float, count: int) -> Array:
    """Return the roots of x tan x = P (odd) and x cot x = -P (even), one in each quarter turn, by bisection."""
    index = np.arange(count)
    low, high = index * (math.pi / 2.0), (index + 1) * (math.pi / 2.0)
    odd = index % 2 == 0
    for _ in range(60):
        x = 0.5 * (low + high)
        sine, cosine = np.sin(x), np.cos(x)
        value = np.where(odd, x * sine - quarter * cosine, x * cosine + quarter * sine)
        rising = np.where(index % 4 < 2, 1.0, -1.0) * np.where(odd, 1.0, -1.0)
        above = value * rising > 0.0
        high, low = np.where(above, x, high), np.where(above, low, x)
    return np.asarray(0.5 * (low + high), dtype=np.float64)


def _by_image(volumes: float, peclet: float) -> tuple[float, float]:
    reach = math.sqrt(peclet / (4.0 * volumes)) * (1.0 - volumes)
    width = math.sqrt(peclet * volumes)
    if abs(reach) > _FAR:
        return (1.0, 1.0 - volumes) if reach > 0.0 else (0.0, 0.0)
    nodes, weights = _hermite()
    a = 1.0 / volumes + 2j * nodes / width
    damping = math.exp(-reach * reach) / (math.pi * width)
    smooth = float((weights * ((a * a - 4.0 * a - 1.0) / (1.0 + a) ** 3).real).sum())
    outlet = 0.5 * math.erfc(-reach) + damping * smooth
    smooth = float((weights * ((a * a + 6.0 * a + 1.0) / (1.0 + a) ** 4).real).sum())
    spread = math.sqrt(volumes / (math.pi * peclet)) * math.exp(-reach * reach)
    ahead = (1.0 - volumes) * 0.5 * math.erfc(-reach)
    return outlet, spread + ahead - 2.0 / peclet * damping * smooth


@cache
def _hermite() -> tuple[Any, Any]:
    nodes, weights = np.polynomial.hermite.hermgauss(64)
    return nodes, weights
