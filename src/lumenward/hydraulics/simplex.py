"""The smallest total of times that meets every demand: a dense dual simplex, exact to rounding.

    minimise sum(t)  subject to  rate @ t >= 1,  t >= 0        rate (R, K), nowhere negative

Small and dense as clamp plans are (a dozen rows, at most a thousand columns), it answers in well under a
millisecond and gives the shadow prices with it. Lemke's dual method (1954); Bland's rule once it stalls.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.friction import Array
from lumenward.quantities import Refusal

_SHORT = 1e-11
_PATIENCE = 50


@dataclass(frozen=True, eq=False)
class Optimum:
    """Times (K,) and shadow prices (R,): what one unit more of each demand would add; both sum to the same total."""

    times: Array
    prices: Array

    @property
    def total(self) -> float:
        """Return the sum of the times."""
        return float(self.times.sum())


def least_total(rate: Array) -> Optimum | None:
    """Return the optimum of the programme above; None when a row has nothing to meet it with.

    >>> found = least_total(np.array([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5]]))
    >>> round(found.total, 12), found.prices.tolist()
    (2.0, [1.0, 1.0])
    """
    rows, columns = rate.shape
    if rows == 0:
        return Optimum(np.zeros(columns), np.zeros(0))
    if columns == 0 or not (rate.max(axis=1) > 0).all():
        return None
    whole = np.hstack([rate, -np.eye(rows)])
    basis = _pivots(whole)
    return _exact(whole, basis, columns)


def _pivots(whole: Array) -> NDArray[np.int64]:
    """Return the columns of an optimal basis, starting from the surpluses, which cost nothing."""
    rows, columns = whole.shape
    table = np.hstack([-whole, -np.ones((rows, 1))])
    cost = np.concatenate([np.ones(columns - rows), np.zeros(rows)])
    basis = np.arange(columns - rows, columns)
    for step in range(50 * (rows + columns)):
        short = np.flatnonzero(table[:, -1] < -_SHORT)
        if short.size == 0:
            return basis
        bland = step > _PATIENCE
        row = int(short[np.argmin(basis[short])] if bland else short[np.argmin(table[short, -1])])
        column = _entering(table[row, :-1], cost)
        _pivot(table, cost, row, column)
        basis[row] = column
    raise _stuck()


def _entering(row: Array, cost: Array) -> int:
    able = np.flatnonzero(row < -_SHORT)
    if able.size == 0:
        raise _stuck()
    ratio = cost[able] / -row[able]
    return int(able[np.argmin(ratio)])


def _pivot(table: Array, cost: Array, row: int, column: int) -> None:
    table[row] /= table[row, column]
    factor = table[:, column].copy()
    factor[row] = 0.0
    table -= np.outer(factor, table[row])
    cost -= cost[column] * table[row, :-1]
    np.maximum(cost, 0.0, out=cost)


def _stuck() -> Refusal:
    return Refusal(
        "not-converged",
        "No shortest plan was found: the rates lie too many powers of ten apart.",
        "",
        "Leave out the channel that takes by far the longest.",
    )


def _exact(whole: Array, basis: NDArray[np.int64], columns: int) -> Optimum:
    """Solve the basis once more from the given figures, so that no rounding of the pivots remains."""
    square = whole[:, basis]
    values = np.linalg.solve(square, np.ones(len(basis)))
    prices = np.linalg.solve(square.T, (basis < columns).astype(float))
    times = np.zeros(whole.shape[1])
    times[basis] = np.maximum(values, 0.0)
    return Optimum(times[:columns], np.maximum(prices, 0.0))
