"""Laminar flow beside a wire that lies inside a round channel.

    laminar_f_re(radius_ratio) -> float                 centred wire: Darcy f times Re, 64 to 96
    flow_ratio(radius_ratio, eccentricity) -> float     flow beside the shifted wire over that beside the centred
    effective_f_re(bore, wire, eccentricity) -> array   what a tube's friction needs

Where the wire lies is not known in practice: on the wall it lets up to 2.5 times the flow of the centred wire
pass, so results for wire channels are a range.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lumenward.quantities import Refusal

Array = NDArray[np.float64]

NARROW = 2e-3  # below this gap over radius the exact difference of large terms loses digits
TOUCHING = 1e-7
THREAD = 1e-290  # a wire thinner than this over the bore changes nothing that a double could hold
CENTRED = 1e-6  # below this offset the gain, 1.5 e^2 at most, is less than the digits lost in finding it


def laminar_f_re(radius_ratio: float) -> float:
    """Return the Darcy f Re of a centred annulus, Re on the hydraulic diameter.

    64 (1-k)^2 / (1 + k^2 - (1-k^2)/ln(1/k)), `radius_ratio` k = wire over bore, 0 (64, no wire) to 1 (96, narrow
    gap). Outside: Refusal `out-of-range`. Source: White, Fluid Mechanics, eq. 6.6 (read).

    >>> round(laminar_f_re(0.5), 2)
    95.25
    """
    _check(radius_ratio, "radius_ratio")
    if radius_ratio == 0:
        return 64.0
    return float(_concentric(np.array([radius_ratio]))[0])


def flow_ratio(radius_ratio: float, eccentricity: float) -> float:
    """Return the flow beside a shifted wire over the flow beside a centred one, same pressure, laminar.

    `radius_ratio` k from 0 to 1, `eccentricity` from 0 (centred) to 1 (touching the wall), otherwise Refusal
    `out-of-range`. Exact series in bipolar coordinates; the narrow-gap shortcut 1 + 1.5 e^2 is used only where
    the gap is below two thousandths of the radius. Source: Piercy, Hooper and Winny 1933, Phil. Mag. 15:647
    (recalled; confirmed by a finite-difference solution in the tests).

    >>> round(flow_ratio(0.5, 0.5), 4), flow_ratio(0.5, 0.0)
    (1.3476, 1.0)
    """
    _check(radius_ratio, "radius_ratio")
    _check(eccentricity, "eccentricity")
    if eccentricity < CENTRED or radius_ratio == 0:
        return 1.0
    if 1 - radius_ratio < NARROW:
        return 1 + 1.5 * eccentricity**2
    ratio = np.array([max(radius_ratio, THREAD)])
    return float((_eccentric_flow(ratio, eccentricity) / _concentric_flow(ratio))[0])


def effective_f_re(bore_m: Array, wire_m: float, eccentricity: float) -> Array:
    """Return the laminar f Re of one tube for an array of bores (m); 64 where there is no wire.

    `wire_m` in metres below every bore, `eccentricity` 0 to 1.
    """
    if wire_m == 0:
        return np.full(bore_m.shape, 64.0)
    ratio = wire_m / bore_m
    centred = _concentric(ratio)
    if eccentricity < CENTRED:
        return centred
    wide = 1 - ratio >= NARROW
    safe = np.where(wide, ratio, 0.5)
    gain = _eccentric_flow(safe, eccentricity) / _concentric_flow(safe)
    return np.asarray(centred / np.where(wide, gain, 1 + 1.5 * eccentricity**2))


def _check(value: float, field: str) -> None:
    if not 0 <= value <= 1:
        raise Refusal("out-of-range", f"{field} must lie between 0 and 1; found {value:g}.", field, "")


def _concentric(ratio: Array) -> Array:
    gap = 1 - ratio
    with np.errstate(divide="ignore", invalid="ignore"):
        exact = 64 * gap**2 / (1 + ratio**2 + (1 - ratio**2) / np.log(ratio))
    return np.where(gap < NARROW, 96 * (1 - gap**2 / 60), exact)


def _concentric_flow(ratio: Array) -> Array:
    return np.asarray(1 - ratio**4 + (1 - ratio**2) ** 2 / np.log(ratio))


def _eccentric_flow(ratio: Array, eccentricity: float) -> Array:
    shift = eccentricity * (1 - ratio)
    if 1 - eccentricity < TOUCHING:
        return _touching_flow(ratio)
    clear = (1 - ratio) * (1 - eccentricity)  # the least gap; from it both logarithms keep their digits
    outer = _arcosh(clear * (1 - shift + ratio) / (2 * shift))
    inner = _arcosh(clear * (1 + shift + ratio) / (2 * shift) / ratio)
    focus = np.sinh(outer)
    main = 1 - ratio**4 - 4 * (shift * focus) ** 2 / (inner - outer)
    return np.asarray(main - 8 * (shift * focus) ** 2 * _series(outer, inner))


def _arcosh(above_one: Array) -> Array:
    """Return arcosh(1 + x): exact near the wall where x is nothing, without overflow beside a hair where it is vast."""
    return np.asarray(np.log1p(above_one + np.sqrt(above_one) * np.sqrt(above_one + 2)))


def _series(outer: Array, inner: Array) -> Array:
    """Sum n exp(-n(b+a)) / sinh(n(b-a)) until the terms are below the last digit."""
    terms = math.ceil(20 / float(np.min(inner)))
    total = np.zeros_like(outer)
    for start in range(1, terms + 1, 4096):
        n = np.arange(start, min(start + 4096, terms + 1), dtype=float).reshape(-1, *(1,) * outer.ndim)
        total += np.sum(2 * n * np.exp(-2 * n * inner) / -np.expm1(-2 * n * (inner - outer)), axis=0)
    return total


def _touching_flow(ratio: Array) -> Array:
    """Return the limit of the series for a wire on the wall: sums become integrals, the integral a trigamma."""
    return np.asarray(1 - ratio**4 - 4 * ratio**2 * _trigamma(1 / (1 - ratio)))


def _trigamma(x: Array) -> Array:
    total = np.zeros_like(x)
    for _ in range(12):
        total += x**-2
        x = x + 1
    y = x**-2
    return total + 1 / x + y / 2 + y / x * (1 / 6 - y * (1 / 30 - y * (1 / 42 - y / 30)))
