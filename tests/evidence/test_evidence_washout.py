"""Washout, dispersion, film and rinse against closed forms, a textbook's data and two solutions of another kind."""

from __future__ import annotations

from functools import cache, partial
from typing import Any

import numpy as np
import pytest
from scipy.linalg import expm

from lumenward.calculations import run
from lumenward.evidence import Check
from lumenward.hydraulics import dispersion, film, rinse, washout, water

_TIMES = [0, 5, 10, 15, 20, 25, 30, 35]
_PULSE = [0, 3, 5, 5, 4, 2, 1, 0]
_PARABOLA = "parabolic profile; page of polykin citing Levenspiel, p. 343"
_LEVENSPIEL = "Levenspiel, Chemical Reaction Engineering, examples 11.1 and 13.1"
_AQ = "Aussillous and Quere, Physics of Fluids 12 (2000) 2367"
_CELLS = 200
_PARTICLES = 40_000


@cache
def _decay(peclet: float, volumes: float) -> tuple[float, float]:
    """Return outlet and mean of a tube cut into cells: central differences, exact in time."""
    matrix = np.zeros((_CELLS, _CELLS))
    mixing = _CELLS / peclet
    for face in range(1, _CELLS):
        for row, sign in ((face - 1, -1.0), (face, 1.0)):
            matrix[row, face - 1] += sign * _CELLS * (0.5 + mixing)
            matrix[row, face] += sign * _CELLS * (0.5 - mixing)
    end = np.array([-1 / 8, 9 / 8])  # the value at an end without slope
    matrix[-1, -2:] -= _CELLS * end
    profile = expm(matrix * volumes) @ np.ones(_CELLS)
    return float(end @ profile[-2:]), float(profile.mean())


@cache
def _walk(tau: float, volumes: tuple[float, ...]) -> tuple[float, ...]:
    """Return the share of particles left in a tube: parabolic speed along, Brownian steps across."""
    rng = np.random.default_rng(20)
    place = np.sqrt(rng.random(_PARTICLES)) * np.exp(2j * np.pi * rng.random(_PARTICLES))
    along = rng.random(_PARTICLES)
    now, left = 0.0, []
    for until in volumes:
        while now < until - 1e-12:
            step = min(4e-4 / (2 * tau), 0.02, until - now)
            before = 2 * (1 - np.abs(place) ** 2)
            place = place + np.sqrt(2 * tau * step) * (
                rng.normal(size=place.size) + 1j * rng.normal(size=place.size)
            )
            radius = np.abs(place)
            place = np.where(radius > 1, place * (2 - radius) / np.maximum(radius, 1e-9), place)
            along = along + 0.5 * step * (before + 2 * (1 - np.abs(place) ** 2))
            inside = along < 1
            place, along, now = place[inside], along[inside], now + step
        left.append(along.size / _PARTICLES)
    return tuple(left)


def _closed(peclet: float, volumes: float) -> washout.Washout:
    return washout.closed_dispersion(volumes, peclet)


def _between(tau: float, volumes: float, found: float) -> bool:
    low, high = washout.laminar_with_diffusion(volumes, tau)
    noise = 3 * (found / _PARTICLES) ** 0.5 + 3 / _PARTICLES
    return bool(low - noise <= found <= high + noise)


def _fills(left: float, target: float) -> int:
    return int(run("rinse", {"start_ppm": 5000, "left_fraction": left, "target_ppm": target})["fills"])


def _water_film(speed: float) -> float:
    capillary = film.capillary_number(speed, water.viscosity(20.0), water.surface_tension(20.0))
    return film.left_fraction(film.thickness_over_radius(capillary))


def _check(name: str, expected: Any, ours: Any, tolerance: float, source: str, known: str) -> Check:
    return Check("washout", name, expected, ours, tolerance, source, known)


_LAMINAR = [
    _check("laminar F(2)", 0.9375, lambda: washout.laminar_convection(2).exited, 1e-9, _PARABOLA, "read"),
    _check("laminar E(1)", 0.5, lambda: washout.laminar_residence_density(1), 1e-9, _PARABOLA, "read"),
    _check(
        "laminar mean residence",
        1.0,
        lambda: 1 - washout.laminar_convection(1e9).left,
        1e-9,
        _PARABOLA,
        "read",
    ),
    _check(
        "laminar outlet at 5 volumes",
        0.01,
        lambda: washout.laminar_convection(5).outlet,
        1e-12,
        _PARABOLA,
        "closed form",
    ),
    _check(
        "laminar left at 5 volumes",
        0.05,
        lambda: washout.laminar_convection(5).left,
        1e-12,
        _PARABOLA,
        "closed form",
    ),
    _check(
        "laminar outlet at 10 volumes",
        0.0025,
        lambda: washout.laminar_convection(10).outlet,
        1e-12,
        _PARABOLA,
        "closed form",
    ),
    _check(
        "laminar left at 10 volumes",
        0.025,
        lambda: washout.laminar_convection(10).left,
        1e-12,
        _PARABOLA,
        "closed form",
    ),
]

_MOMENTS = [
    _check(
        "pulse mean, min",
        15.0,
        lambda: washout.moments(_TIMES, _PULSE)[0],
        0.075,
        _LEVENSPIEL,
        "data read, answer recalled",
    ),
    _check(
        "pulse variance, min2",
        47.5,
        lambda: washout.moments(_TIMES, _PULSE)[1],
        0.24,
        _LEVENSPIEL,
        "data read, answer recalled",
    ),
    _check(
        "variance over mean squared",
        0.2111,
        lambda: 47.5 / 15**2,
        0.001,
        _LEVENSPIEL,
        "data read, answer recalled",
    ),
    _check(
        "closed vessel D/uL",
        0.120,
        lambda: 1 / washout.peclet_from_variance(47.5 / 225),
        0.0006,
        _LEVENSPIEL,
        "data read, answer recalled",
    ),
    _check(
        "tanks in series",
        4.74,
        lambda: 225 / washout.moments(_TIMES, _PULSE)[1],
        0.024,
        _LEVENSPIEL,
        "data read, answer recalled",
    ),
    _check(
        "variance at Peclet 40",
        0.04875,
        lambda: dispersion.closed_variance(40),
        5e-5,
        "rtdpy AD_cc gives 0.04877",
        "computed by rtdpy 0.6.1",
    ),
]

_SERIES = [
    _check(
        f"closed Peclet {peclet:g}: F({v:g})",
        expected,
        lambda p=peclet, v=v: _closed(p, v).exited,
        0.001,
        "Brenner series",
        known,
    )
    for known, peclet, rows in (
        ("recomputed twice", 2.0, ((0.5, 0.2760), (1, 0.6241), (1.5, 0.8088), (2, 0.9028), (3, 0.9749))),
        (
            "computed by rtdpy 0.6.1",
            2.0,
            ((0.5, 0.2768), (1, 0.6246), (1.5, 0.8090), (2, 0.9029), (3, 0.9749)),
        ),
        ("recomputed twice", 40.0, ((1, 0.5435),)),
        ("computed by rtdpy 0.6.1", 40.0, ((1, 0.5444),)),
    )
    for v, expected in rows
]

_CUT = "the same tube cut into 200 cells, matrix exponential of scipy"
_CELL_CHECKS = [
    _check(
        f"Peclet {p:g}, {v:g} volumes: {what}",
        _decay(p, v)[i],
        lambda p=p, v=v, what=what: getattr(_closed(p, v), what),
        3e-4,
        _CUT,
        "computed by scipy",
    )
    for p, v in ((0.5, 0.7), (2.0, 1.0), (10.0, 1.5), (19.9, 0.9), (20.1, 0.9), (40.0, 1.0), (100.0, 1.1))
    for i, what in enumerate(("outlet", "left"))
]

_WALKS = [
    _check(
        f"left after {v:g} volumes lies in the band, radial time {tau:g}",
        True,
        lambda tau=tau, vs=vs, i=i: _between(tau, vs[i], _walk(tau, vs)[i]),
        0,
        "random walk of 40,000 particles, parabolic speed",
        "own second method",
    )
    for tau, vs in ((0.0009, (1.0, 2.0, 3.0, 5.0, 9.0)), (0.015, (1.0, 2.0, 3.0)), (0.0387, (1.0, 2.0, 3.0)))
    for i, v in enumerate(vs)
]
_PROTOTYPE_WALKS = [
    _check(
        f"left after {v:g} volumes near {left:g}, radial time {tau:g}",
        True,
        lambda tau=tau, v=v, left=left: _between(tau, v, left),
        0,
        "earlier random walk, another program",
        "own second method",
    )
    for tau, rows in (
        (0.0150, ((1, 0.242), (2, 0.0764), (3, 0.0168), (5, 0.00015), (9, 0.0))),
        (0.0015, ((1, 0.251), (2, 0.118), (3, 0.0680), (5, 0.0197), (9, 0.0005))),
        (0.0009, ((1, 0.251), (2, 0.120), (3, 0.0733), (5, 0.0277), (9, 0.0019))),
        (0.0387, ((1, 0.226), (2, 0.0413), (3, 0.0032), (5, 0.0), (9, 0.0))),
    )
    for v, left in rows
]

_FILMS = [
    Check(
        "film",
        f"share left at {speed:g} m/s, water 20 C",
        expected,
        partial(_water_film, speed),
        0.006,
        _AQ,
        "recalled, recomputed",
        relative=True,
    )
    for speed, expected in (
        (0.01, 0.0071),
        (0.1, 0.0316),
        (0.5, 0.0846),
        (1, 0.125),
        (2, 0.178),
        (5, 0.267),
        (10, 0.342),
    )
]

_RINSES = [
    Check(
        "rinse",
        f"5000 to {target:g} ppm, purge leaves {left:g}",
        fills,
        partial(_fills, left, target),
        0,
        "c0 phi^n",
        "closed form",
    )
    for target, row in ((50, (2, 2, 3, 5)), (10, (3, 3, 4, 6)), (1, (3, 4, 6, 9)))
    for left, fills in zip((0.05, 0.10, 0.20, 0.35), row, strict=True)
] + [
    Check(
        "rinse",
        "volumes stirred, 5000 to 10 ppm",
        6.2,
        lambda: rinse.flow_through(5000, 10).stirred,
        0.05,
        "ln 500",
        "closed form",
    ),
    Check(
        "rinse",
        "volumes until the laminar outlet is at 10 ppm",
        11.2,
        lambda: rinse.flow_through(5000, 10).laminar_outlet,
        0.05,
        "1/(4 v^2)",
        "closed form",
    ),
    Check(
        "rinse",
        "volumes until the laminar mean is at 10 ppm",
        125.0,
        lambda: rinse.flow_through(5000, 10).laminar_left,
        1e-9,
        "1/(4 v)",
        "closed form",
    ),
]

CHECKS = [
    *_LAMINAR,
    *_MOMENTS,
    *_SERIES,
    *_CELL_CHECKS,
    *_WALKS,
    *_PROTOTYPE_WALKS,
    *_FILMS,
    *_RINSES,
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_washout_film_and_rinse_agree_with_the_world_outside(check: Check) -> None:
    check.assert_holds()
