"""The next reading most worth taking: the one expected to settle most of what is still open.

    worth_taking(diagnosis) -> (Candidate, ...)     the best first

Candidates: each port opened alone, and all ports open, with total flow and pressure; a cup at each outlet with all
ports open; each only if not read yet. Worth is the expected drop in the entropy of the hypotheses, in bits, from seeded
draws of what the reading may show. Faults that no reading tells apart add nothing to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lumenward.hydraulics.diagnosis import Diagnosis, Spot, gathered, noise_of, predictions
from lumenward.hydraulics.fault_table import Integers, usual_settings
from lumenward.hydraulics.friction import Array

SAMPLES = 400
_SEED = 1948
_LIGHTEST = 1e-5
_MOST_CASES = 300


@dataclass(frozen=True)
class Candidate:
    """A reading to take: the ports to open, what to read there, and the bits it is expected to settle."""

    open: tuple[str, ...]
    what: tuple[str, ...]
    bits: float


def entropy_bits(probability: Array) -> float:
    """Return the entropy of a distribution in bits.

    >>> entropy_bits(np.array([0.5, 0.25, 0.25]))
    1.5
    """
    positive = probability[probability > 0]
    return float(-(positive * np.log2(positive)).sum())


@dataclass(frozen=True, eq=False)
class _Known:
    """The weightiest cases with what they predicted of the readings at hand."""

    found: Diagnosis
    cases: Integers
    mean: Array
    covariance: Array
    slope: Array

    @property
    def weight(self) -> Array:
        chosen = self.found.weight[self.cases]
        return np.asarray(chosen / chosen.sum())

    @property
    def owner(self) -> Integers:
        return np.array([self.found.table.rig.cases[case][0] for case in self.cases])


def worth_taking(found: Diagnosis) -> tuple[Candidate, ...]:
    """Return the candidates, the one that settles most first; empty when everything has been read."""
    known = _known(found)
    rated = [
        Candidate(setting, what, _expected_drop(known, spots)) for setting, what, spots in _candidates(found)
    ]
    return tuple(sorted(rated, key=lambda one: -one.bits))


def _known(found: Diagnosis) -> _Known:
    order = np.argsort(-found.weight, kind="stable")[:_MOST_CASES]
    cases = np.asarray(order[found.weight[order] > _LIGHTEST], dtype=np.int64)
    mean, covariance = predictions(found.table, found.spots, found.beliefs, found.noise)
    slope = gathered(found.table, found.spots)[1]
    return _Known(found, cases, mean[cases], covariance[cases], slope[cases])


def _candidates(found: Diagnosis) -> Iterator[tuple[tuple[str, ...], tuple[str, ...], list[Spot]]]:
    table, done = found.table, set(found.spots)
    every, *alone = usual_settings(table.rig.ports)
    choices: list[tuple[tuple[str, ...], tuple[str, ...]]] = [
        (setting, ("flow", "pressure")) for setting in [*alone, every]
    ]
    choices += [(every, (outlet,)) for outlet in table.rig.outlets]
    asked: set[tuple[frozenset[str], tuple[str, ...]]] = set()
    for setting, what in choices:
        spots = [(frozenset(setting), table.readings.index(name)) for name in what]
        left = [i for i, spot in enumerate(spots) if spot not in done]
        if left and (frozenset(setting), what) not in asked:
            asked.add((frozenset(setting), what))
            yield setting, tuple(what[i] for i in left), [spots[i] for i in left]


def _expected_drop(known: _Known, spots: list[Spot]) -> float:
    """Return the mutual information between hypothesis and reading, given all that was read already."""
    mean, covariance = _given_readings(known, spots)
    weight = known.weight
    rng = np.random.default_rng(_SEED)
    places = (np.arange(SAMPLES) + 0.5) / SAMPLES
    drawn = np.minimum(np.searchsorted(np.cumsum(weight), places), len(weight) - 1)
    root: Array = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    noise = rng.standard_normal((SAMPLES, len(spots), 1))
    shown = mean[drawn] + (root[drawn] @ noise)[..., 0]
    density = _densities(shown, mean, root) * weight
    hypotheses, position = np.unique(known.owner, return_inverse=True)
    member = (position[:, None] == np.arange(len(hypotheses))).astype(float)
    mine = (density @ member)[np.arange(SAMPLES), position[drawn]] / (weight @ member)[position[drawn]]
    return max(float(np.mean(np.log2(mine / density.sum(axis=1)))), 0.0)


def _densities(shown: Array, mean: Array, root: Array) -> Array:
    """Return the density of each sample under each case (samples, cases), up to a factor common to all."""
    inverse = np.linalg.inv(root)
    scaled = np.einsum("crs,ncs->ncr", inverse, shown[:, None, :] - mean[None])
    log = -0.5 * (scaled**2).sum(axis=2) - np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    return np.asarray(np.exp(log - log.max(axis=1, keepdims=True)))


def _given_readings(known: _Known, spots: list[Spot]) -> tuple[Array, Array]:
    """Return mean and covariance of the new reading for each case, conditioned on the readings at hand."""
    found = known.found
    mean, slope, left = (part[known.cases] for part in gathered(found.table, spots))
    mean = mean + slope @ found.beliefs.mean
    spread = slope @ found.beliefs.spread
    across = spread @ np.swapaxes(known.slope, 1, 2)
    gain = np.swapaxes(np.linalg.solve(known.covariance, np.swapaxes(across, 1, 2)), 1, 2)
    covariance = spread @ np.swapaxes(slope, 1, 2) - gain @ np.swapaxes(across, 1, 2)
    at = np.arange(len(spots))
    covariance[:, at, at] += noise_of(found.table, spots, mean, found.noise) ** 2 + left**2
    return mean + (gain @ (found.values - known.mean)[..., None])[..., 0], covariance
