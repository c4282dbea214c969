"""Which faults the readings at hand cannot tell apart.

Two faults belong together when what they predict, everything unknown included, lies less than one standard deviation
apart, seen from either of them. Partial blocks are compared for equal shares left open. Groups form around the
hypothesis with the fewest faults, so that no chain of small steps ties together what is far apart.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.faults import STRATA, Rig
from lumenward.hydraulics.friction import Array

CLOSE = 1.0


def classes_of(
    rig: Rig, predicted: Array, covariance: Array, probability: Array
) -> tuple[tuple[tuple[int, ...], float], ...]:
    """Return (hypotheses, probability) of each class, the most probable first; probabilities sum to one.

    `predicted` (cases, R) and `covariance` (cases, R, R) of the readings; `probability` (H,).
    """
    grid = _grid(rig)
    mean = predicted[grid]  # (H, STRATA, STRATA, R)
    spread = np.stack([covariance[np.unique(cases)].mean(axis=0) for cases in grid])
    root = np.linalg.inv(np.linalg.cholesky(spread))
    middle = mean.mean(axis=(1, 2))
    left = np.arange(len(grid))
    groups: list[list[int]] = []
    while left.size:
        first = int(left[0])
        # The distance of the middles bounds that of the grids from below, and is quick.
        near = np.linalg.norm((middle[left] - middle[first]) @ root[first].T, axis=1) < CLOSE
        chosen = left[near]
        close = _distance(mean[chosen], mean[first], root[first]) < CLOSE
        close &= _distance(mean[chosen], mean[first], root[chosen]) < CLOSE
        close |= chosen == first
        groups.append([int(h) for h in chosen[close]])
        left = np.setdiff1d(left, chosen[close], assume_unique=True)
    sized = [(tuple(group), math.fsum(probability[group])) for group in groups]
    total = math.fsum(p for _, p in sized)
    return tuple(sorted(((g, p / total) for g, p in sized), key=lambda one: (-one[1], one[0])))


def _grid(rig: Rig) -> NDArray[np.int64]:
    """Return the case of each hypothesis (H, STRATA, STRATA): constant where it has no, or one, partial block."""
    cases: list[list[int]] = [[] for _ in rig.hypotheses]
    for number, (hypothesis, _) in enumerate(rig.cases):
        cases[hypothesis].append(number)
    shape = (STRATA, STRATA)
    return np.stack([np.broadcast_to(_arranged(one), shape) for one in cases])


def _arranged(cases: list[int]) -> NDArray[np.int64]:
    array = np.array(cases, dtype=np.int64)
    return array.reshape(-1, 1) if len(cases) <= STRATA else array.reshape(STRATA, STRATA)


def _distance(mean: Array, other: Array, root: Array) -> Array:
    """Return root mean square distances over the grid (H,), the nearer of both orders of two partial blocks."""
    straight = _scaled(mean - other, root)
    turned = _scaled(mean - np.swapaxes(other, 0, 1), root)
    return np.asarray(np.minimum(straight, turned))


def _scaled(apart: Array, root: Array) -> Array:
    flat = apart.reshape(len(apart), -1, apart.shape[-1])
    scaled = flat @ np.swapaxes(root, -1, -2)
    return np.asarray(np.sqrt((scaled**2).sum(axis=-1).mean(axis=-1)))
