"""Friction of a tube: the Darcy factor f by four laws, and what a Newton solver needs of it.

Laminar below a Reynolds number of 2000 in every law but Churchill's, which covers all. What lies between 2000
and 4000 nobody knows: `epanet` uses Dunlop's cubic, `colebrook` and `swamee-jain` go over from the laminar line
to their formula between 2000 and 2300, so that a network has no jump. Branch flows can differ by 10 % there.

A tube that is not round enters with `laminar` (its laminar f Re, 64 for a round one): turbulent formulas then
see the effective diameter 64/laminar times the hydraulic one (White, Fluid Mechanics, 6.6, read).

    friction_factor(law, reynolds, relative_roughness) -> float
    prepare(law, laminar, roughness) -> Curve;  curve(reynolds) -> (f Re, slope)    arrays
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from lumenward.quantities import Refusal

Array = NDArray[np.float64]
Curve = Callable[[Array], tuple[Array, Array]]

ROUND = 64.0
LAMINAR_END = 2000.0
JOINED = 2300.0
TURBULENT = 4000.0
LOG_FACTOR = -2.0 / math.log(10.0)
NEWTON_STEPS = 3


def friction_factor(law: str, reynolds: float, relative_roughness: float) -> float:
    """Return the Darcy friction factor of a round tube.

    `law` one of colebrook, swamee-jain, churchill, epanet; `reynolds` above 0 up to 1e9; `relative_roughness`
    (roughness over bore) 0 to 0.1. Outside those Refusal `unknown-law`, `not-finite` or `out-of-range`.
    Sources: Colebrook 1939; Swamee and Jain 1976; Churchill 1977; Dunlop's cubic as in EPANET 2.2 (all recalled,
    compared with named libraries by tests).

    >>> round(friction_factor("colebrook", 1e5, 1e-4), 7)
    0.0185139
    """
    _check(reynolds, "reynolds", 0.0, 1e9, above=True)
    _check(relative_roughness, "relative_roughness", 0.0, 0.1)
    curve = prepare(law, np.array([ROUND]), np.array([relative_roughness]))
    return float(curve(np.array([reynolds]))[0][0]) / reynolds


def prepare(law: str, laminar: Array, roughness: Array) -> Curve:
    """Return the curve of tubes: from Reynolds numbers to f Re and to d(f Re Re)/dRe.

    `laminar` laminar f Re (64 for round tubes) and `roughness` (over the hydraulic diameter), dimensionless
    arrays of one shape; the curve takes Reynolds numbers >= 0 of a shape that broadcasts with it. Both results are
    finite at rest. Raises Refusal `unknown-law`.
    """
    if law not in _CURVES:
        raise Refusal(
            "unknown-law", f"There is no friction law {law!r}.", "law", "One of: " + ", ".join(_CURVES)
        )
    return _CURVES[law](laminar, roughness)


def _check(value: float, field: str, low: float, high: float, *, above: bool = False) -> None:
    if not math.isfinite(value):
        raise Refusal("not-finite", f"A number is needed; found {value}.", field, "Give a finite number.")
    if value < low or value > high or (above and value == low):
        edge = "above" if above else "from"
        raise Refusal(
            "out-of-range", f"{field} must lie {edge} {low:g} to {high:g}; found {value:g}.", field, ""
        )


def _epanet(laminar: Array, roughness: Array) -> Curve:
    zeta, rough = ROUND / laminar, roughness * laminar / (ROUND * 3.7)
    x1, x2, x3, x4 = dunlop_coefficients(laminar, roughness)

    def curve(reynolds: Array) -> tuple[Array, Array]:
        product, slope = _swamee_jain_turbulent(np.maximum(reynolds, TURBULENT), zeta, rough)
        r = reynolds / LAMINAR_END
        factor = x1 + r * (x2 + r * (x3 + r * x4))
        bend = r * (x2 + r * (2 * x3 + r * 3 * x4))
        between = reynolds < TURBULENT
        product = np.where(between, factor * reynolds, product)
        slope = np.where(between, (2 * factor + bend) * reynolds, slope)
        still = reynolds <= LAMINAR_END
        return np.where(still, laminar, product), np.where(still, laminar, slope)

    return curve


def dunlop_coefficients(laminar: Array, roughness: Array) -> tuple[Array, Array, Array, Array]:
    """Return the four coefficients of f in powers of Re/2000 between 2000 and 4000.

    Both y2 and y3 are taken at 4000, where the cubic meets the turbulent formula in value and slope; at 2000 it
    meets the laminar line, for which the constants 0.128 and 0.032 of a round tube become 4c and c with
    c = laminar/2000.
    """
    meeting = 5.74 * (TURBULENT * ROUND / laminar) ** -0.9
    y2 = roughness * laminar / (ROUND * 3.7) + meeting
    y3 = LOG_FACTOR * np.log(y2)
    fa = y3**-2
    fb = fa * (2 + 1.8 * LOG_FACTOR * meeting / (y2 * y3))
    c = laminar / LAMINAR_END
    return 7 * fa - fb, 4 * c - 17 * fa + 2.5 * fb, -4 * c + 13 * fa - 2 * fb, c - 3 * fa + 0.5 * fb


def _swamee_jain_turbulent(reynolds: Array, zeta: Array, rough: Array) -> tuple[Array, Array]:
    smooth = 5.74 * np.exp(-0.9 * np.log(reynolds * zeta))
    inner = rough + smooth
    root = LOG_FACTOR * np.log(inner)
    product = reynolds / (root * root)
    return product, product * (2 + 1.8 * LOG_FACTOR * smooth / (inner * root))


def _colebrook_turbulent(reynolds: Array, zeta: Array, rough: Array) -> tuple[Array, Array]:
    share = 2.51 / (reynolds * zeta)
    root = LOG_FACTOR * np.log(rough + 5.74 * np.exp(-0.9 * np.log(reynolds * zeta)))
    for _ in range(NEWTON_STEPS):
        inner = rough + share * root
        root = root - (root - LOG_FACTOR * np.log(inner)) / (1 - LOG_FACTOR * share / inner)
    pull = -LOG_FACTOR * share / (rough + share * root)
    product = reynolds / (root * root)
    return product, product * (2 - 2 * pull / (1 + pull))


def _joined(
    turbulent: Callable[[Array, Array, Array], tuple[Array, Array]],
) -> Callable[[Array, Array], Curve]:
    def law(laminar: Array, roughness: Array) -> Curve:
        zeta, rough = ROUND / laminar, roughness * laminar / (ROUND * 3.7)

        def curve(reynolds: Array) -> tuple[Array, Array]:
            product, slope = turbulent(np.maximum(reynolds, LAMINAR_END), zeta, rough)
            z = np.clip((reynolds - LAMINAR_END) / (JOINED - LAMINAR_END), 0.0, 1.0)
            weight = z * z * (3 - 2 * z)
            growth = 6 * z * (1 - z) * reynolds / (JOINED - LAMINAR_END)
            joined = laminar + weight * (product - laminar)
            return joined, laminar + weight * (slope - laminar) + growth * (product - laminar)

        return curve

    return law


def _churchill(laminar: Array, roughness: Array) -> Curve:
    zeta, rough = ROUND / laminar, roughness * laminar / ROUND

    def curve(reynolds: Array) -> tuple[Array, Array]:
        re = np.clip(reynolds * zeta, 1e-3, 1e20)
        smooth = np.exp(0.9 * np.log(7 / re))
        inner = smooth + 0.27 * rough
        theta = -2.457 * np.log(inner)
        a, b = theta**16, (37530 / re) ** 16
        a_slope = 16 * theta**15 * 2.457 * 0.9 * smooth / inner
        term = re**12 * (a + b) ** -1.5
        rise = 12 - 1.5 * (a_slope - 16 * b) / (a + b)
        product = 8 * (8.0**12 + term) ** (1 / 12) / zeta
        return product, product * (1 + term / (8.0**12 + term) * rise / 12)

    return curve


_CURVES: dict[str, Callable[[Array, Array], Curve]] = {
    "colebrook": _joined(_colebrook_turbulent),
    "swamee-jain": _joined(_swamee_jain_turbulent),
    "churchill": _churchill,
    "epanet": _epanet,
}
