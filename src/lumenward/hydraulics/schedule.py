"""Which settings to run for how long: the shortest schedule that meets every demand.

    shortest(rates, demands, switch_s=0, floor_s=0) -> Schedule

`rates` (K, D): what setting k gives demand d in each second; `demands` (D,). A demand is met when the times, weighted
with the rates, reach it: a volume in m3 at flows in m3/s, or seconds of shear at a rate of one. Each setting used
costs `switch_s`, the first one too, since its clamps must be set as well. The running time never comes out below
`floor_s`: what is left of the floor stretches all turns in proportion, which gives every demand the same multiple,
the largest that the least served can have with these turns.

Without costs and floor it is a linear programme (`simplex`), with them a mixed-integer one (`few_settings`). Among
plans that stay within a floor, the one with the fewest changes is taken: it costs no time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.few_settings import Task, fewest
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.simplex import Optimum, least_total

NOTHING = 1e-12  # of the best rate: rounding, not flow
TRIFLE = 1e-24  # m3, m3/s or s; less than a molecule, and its reciprocal would leave the doubles
_ROUNDING = 1e-12
_NO_COST = 1e-3  # of the floor: the price of a change where only the number of changes is at stake


@dataclass(frozen=True, eq=False)
class Schedule:
    """Seconds in each setting (K,), and what decides their sum.

    `shares` (D,) are the parts of the running time that each demand answers for; they sum to one. `stretched_s` is
    what the floor added, `changes` how many settings are used, `total_s` running time and changes together. `proven`
    is False only when there were too many settings to prove that nothing is shorter.
    """

    seconds: Array
    shares: Array
    stretched_s: float
    switch_s: float
    proven: bool = True

    @property
    def running_s(self) -> float:
        """Return the time in which liquid runs."""
        return math.fsum(self.seconds)

    @property
    def used(self) -> tuple[int, ...]:
        """Return the settings that run at all."""
        return tuple(int(k) for k in np.flatnonzero(self.seconds > 0))

    @property
    def changes(self) -> int:
        """Return how many settings are used."""
        return len(self.used)

    @property
    def total_s(self) -> float:
        """Return running time and changes."""
        return self.running_s + self.switch_s * self.changes


def unmet(rates: Array, demands: Array) -> tuple[int, ...]:
    """Return the demands that no setting can meet."""
    wanted = demands > TRIFLE
    return tuple(int(d) for d in np.flatnonzero(wanted & ~(_cleaned(rates) > 0).any(axis=0)))


def shortest(rates: Array, demands: Array, switch_s: float = 0.0, floor_s: float = 0.0) -> Schedule | None:
    """Return the shortest schedule, or None when a demand cannot be met (see `unmet`).

    >>> found = shortest(np.array([[10.0, 0.0], [0.0, 10.0]]), np.array([70.0, 30.0]))
    >>> found.seconds.tolist(), found.total_s
    ([7.0, 3.0], 10.0)
    """
    if unmet(rates, demands):
        return None
    wanted = np.flatnonzero(demands > TRIFLE)
    seconds, shares = np.zeros(len(rates)), np.zeros(len(demands))
    if wanted.size == 0:
        return Schedule(seconds, shares, 0.0, switch_s)
    per_second = _cleaned(rates)[:, wanted] / demands[wanted]
    unit = float((1 / per_second.max(axis=0)).max())
    needs = (per_second * unit).T
    hard = undominated(-needs.T)
    kept = undominated(needs[hard])
    found, proven = _best(needs[np.ix_(hard, kept)], switch_s / unit, floor_s / unit)
    seconds[kept] = found.times * unit
    shares[wanted[hard]] = found.prices / found.prices.sum()
    running = math.fsum(seconds)
    stretch = floor_s / running if floor_s > running * (1 + _ROUNDING) else 1.0
    return Schedule(seconds * stretch, shares, running * (stretch - 1), switch_s, proven)


def in_one_setting(rates: Array, demands: Array) -> float | None:
    """Return the seconds that the one setting `rates` (D,) needs for everything; None when it cannot."""
    if unmet(rates[None, :], demands):
        return None
    wanted = demands > TRIFLE
    return float(np.max(demands[wanted] / rates[wanted], initial=0.0))


def _cleaned(rates: Array) -> Array:
    return np.where(rates > np.maximum(NOTHING * rates.max(axis=0, initial=0.0), TRIFLE), rates, 0.0)


def undominated(needs: Array) -> NDArray[np.int64]:
    """Return the columns (R, K) that no other column equals or beats in every row; the first among equals.

    >>> undominated(np.array([[1.0, 2.0, 0.0, 2.0], [1.0, 1.0, 3.0, 1.0]])).tolist()
    [1, 2]
    """
    count = needs.shape[1]
    beaten = np.zeros(count, dtype=np.bool_)
    for column in range(count):
        one = needs[:, column : column + 1]
        covers = (needs >= one).all(axis=0)
        strictly = (needs > one).any(axis=0)
        earlier = np.arange(count) < column
        beaten[column] = (covers & (strictly | earlier)).any()
    return np.flatnonzero(~beaten)


def _best(needs: Array, switch: float, floor: float) -> tuple[Optimum, bool]:
    """Return the optimum within the settings that the changes and the floor make worth using, and if it is proven."""
    plain = least_total(needs)
    if plain is None:
        raise ArithmeticError("every row of a checked programme has a column")
    if int((plain.times > 0).sum()) <= 1 or (switch == 0 and floor <= plain.total):
        return plain, True
    if switch > 0:
        return fewest(Task(needs, switch, floor), plain)
    return fewest(Task(needs, _NO_COST * floor, floor, limit=floor), plain)
