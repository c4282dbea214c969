"""Which few settings to use when each one used has a price: exact, by cuts.

    fewest(needs, price, floor, limit, plain) -> Optimum | None

For any weights y on the demands, a set of settings S needs at least sum(y) / max over S of (y . needs) seconds. So a
set that is to stay below some time must hold at least one setting that is strong enough for those weights: a cut.
The search branches over the strongest settings of the tightest cut; each set that meets all cuts is timed by the
linear programme, whose shadow prices are the next cut. It tries rising totals, so that the first found is the best.
Where the sets are too many for it, HiGHS takes over through scipy, bounded by a plan grown greedily.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.simplex import Optimum, least_total

PATIENCE = 4000
_PROOF = 1e-9
_GAP = 1e-4
_SECONDS = 10.0
_TRIED = 60
_OUTPUT = Lock()


@dataclass(frozen=True)
class Task:
    """Demands by settings `needs` (R, K), the `price` of each used, a `floor` and a `limit` of the running time."""

    needs: Array
    price: float
    floor: float = 0.0
    limit: float = np.inf

    def cost(self, running: float, used: int) -> float:
        """Return what a plan costs; infinite above the limit."""
        return np.inf if running > self.limit * (1 + _PROOF) else max(running, self.floor) + self.price * used

    def cost_of(self, found: Optimum) -> float:
        """Return what an optimum costs."""
        return self.cost(found.total, int((found.times > 0).sum()))

    def within(self, columns: NDArray[np.int64]) -> Optimum | None:
        """Return the optimum that uses only some of the settings."""
        found = least_total(self.needs[:, columns])
        if found is None:
            return None
        times = np.zeros(self.needs.shape[1])
        times[columns] = found.times
        return Optimum(times, found.prices)


def fewest(task: Task, plain: Optimum, patience: int = PATIENCE) -> tuple[Optimum, bool]:
    """Return the cheapest plan and whether that is proven; `plain` is the optimum without a price.

    >>> needs = np.array([[1.0, 0.0, 0.4], [0.0, 1.0, 0.4]])
    >>> found, proven = fewest(Task(needs, price=1.0), least_total(needs))
    >>> found.times.tolist(), proven
    ([0.0, 0.0, 2.5], True)
    """
    search = _Search(task, max(plain.total, task.floor), patience)
    for row in np.eye(len(task.needs)):
        search.add_cut(row)
    search.add_cut(plain.prices)
    most = task.cost_of(plain)
    total = search.least + 1.5 * task.price
    while search.found is None and search.patience > 0:
        search.best = min(total, most)
        search.descend((), np.ones(task.needs.shape[1], dtype=np.bool_))
        if total >= most:
            break
        total += 0.5 * task.price
    best = plain if search.found is None else _better(task, task.within(np.array(search.found)), plain)
    return (best, True) if search.patience > 0 else _handed_over(task, search.least, best)


@dataclass
class _Search:
    task: Task
    least: float
    patience: int
    best: float = np.inf
    found: tuple[int, ...] | None = None
    cuts: Array = field(default_factory=lambda: np.zeros((0, 0)))

    def add_cut(self, weights: Array) -> None:
        strength = (weights @ self.task.needs / weights.sum())[None, :]
        self.cuts = np.vstack([self.cuts, strength]) if self.cuts.size else strength

    def room(self, used: int) -> float:
        """Return the longest running time with which a set of `used` settings would still be the best."""
        return min(self.best * (1 - _PROOF) - self.task.price * used, self.task.limit)

    def descend(self, chosen: tuple[int, ...], free: NDArray[np.bool_]) -> None:
        """Search all sets that hold `chosen` and otherwise only `free` settings."""
        self.patience -= 1
        if chosen:
            self._consider(chosen)
        open_cuts = self._open_cuts(chosen)
        if open_cuts is None or self.patience < 0:
            return
        used = len(chosen) + 1
        able = (self.cuts[open_cuts] * self.room(used) >= 1) & free
        if self.room(used + 1) < self.least:
            for setting in np.flatnonzero(able.all(axis=0)):
                self._consider((*chosen, int(setting)))
            return
        self._branch(chosen, free, able, self.cuts[open_cuts])

    def _branch(
        self, chosen: tuple[int, ...], free: NDArray[np.bool_], able: NDArray[np.bool_], cuts: Array
    ) -> None:
        tightest = int(np.argmin(able.sum(axis=1)))
        strength = cuts[tightest]
        settings = np.flatnonzero(able[tightest])
        left = free.copy()
        for setting in settings[np.argsort(-strength[settings], kind="stable")]:
            if strength[setting] * self.room(len(chosen) + 1) < 1:
                return
            left[setting] = False
            self.descend((*chosen, int(setting)), left)

    def _open_cuts(self, chosen: tuple[int, ...]) -> NDArray[np.bool_] | None:
        """Return the cuts that one more setting must meet; None when no larger set can be better."""
        while (room := self.room(len(chosen) + 1)) >= self.least:
            missed = self.cuts[:, chosen].max(axis=1, initial=0.0) * room < 1
            if missed.any():
                return np.asarray(missed)
            self._time(chosen)
        return None

    def _consider(self, chosen: tuple[int, ...]) -> None:
        if (self.cuts[:, chosen].max(axis=1) * self.room(len(chosen)) >= 1).all():
            self._time(chosen)

    def _time(self, chosen: tuple[int, ...]) -> None:
        found = least_total(self.task.needs[:, chosen])
        if found is None:
            raise ArithmeticError("a set that meets the cut of every demand can meet every demand")
        cost = self.task.cost(found.total, len(chosen))
        if cost < self.best * (1 - _PROOF):
            self.best, self.found = cost, chosen
        self.add_cut(found.prices)


def _better(task: Task, one: Optimum | None, other: Optimum) -> Optimum:
    return other if one is None or task.cost_of(one) >= task.cost_of(other) * (1 - _PROOF) else one


def _handed_over(task: Task, least: float, best: Optimum) -> tuple[Optimum, bool]:
    best = _grown(task, best)
    used, proven = integer_programme(task, least, task.cost_of(best))
    return (best if used is None else _better(task, task.within(used), best)), proven


def _grown(task: Task, best: Optimum) -> Optimum:
    """Return the cheapest plan met while growing a set by one setting at a time and exchanging them.

    Only the settings that weigh most by the shadow prices are tried: good, but not proven.
    """
    found = task.within(np.array([int(np.argmax(task.needs.min(axis=0)))]))
    size = 1
    while found is not None and size < len(task.needs):
        used = np.flatnonzero(found.times > 0)
        rivals = [_with_one_more(task, used, found)]
        rivals += [_with_one_more(task, np.delete(used, place), found) for place in range(len(used))]
        able = [rival for rival in rivals if rival is not None and rival.total < found.total * (1 - _PROOF)]
        if not able:
            break
        found = min(able, key=task.cost_of)
        best = min(best, found, key=task.cost_of)
        size = int((found.times > 0).sum())
    return best


def _with_one_more(task: Task, used: NDArray[np.int64], found: Optimum) -> Optimum | None:
    """Return the cheapest plan of the settings in use and one of the weightiest others."""
    weightiest = np.argsort(-(found.prices @ task.needs), kind="stable")[:_TRIED]
    others = np.setdiff1d(weightiest, used)
    rivals = [task.within(np.append(used, other)) for other in others]
    able = [rival for rival in rivals if rival is not None]
    return min(able, key=task.cost_of, default=None)


@contextmanager
def _output_to_errors() -> Iterator[None]:
    """Send what HiGHS now and then prints to the errors, away from answers on the standard output."""
    with _OUTPUT:
        kept = os.dup(1)
        os.dup2(2, 1)
        try:
            yield
        finally:
            os.dup2(kept, 1)
            os.close(kept)


def integer_programme(task: Task, least: float, best: float) -> tuple[NDArray[np.int64] | None, bool]:
    """Return the settings HiGHS would use (None if none is better than `best`), and whether it finished in time.

    Variables: times (K), used (K, whole), running time z. A setting never runs longer than it needs for all it
    reaches, nor than the best known cost leaves; that bounds its time and, row by row, what it can give. Optimal
    to 1e-4.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    rows, count = task.needs.shape
    reached = task.needs > 0
    alone = np.max(np.where(reached, 1 / np.where(reached, task.needs, 1.0), 0.0), axis=0)
    longest = np.minimum(alone, max(best - task.price, 0.0))
    none, zeros, ones = np.zeros((rows, count)), np.zeros(count), np.ones(count)
    whole_cost = np.concatenate([zeros, task.price * ones, [1.0]])
    matrix = np.vstack(
        [
            np.hstack([task.needs, none, np.zeros((rows, 1))]),
            np.hstack([none, np.minimum(task.needs * longest, 1.0), np.zeros((rows, 1))]),
            np.hstack([-np.eye(count), np.diag(longest), np.zeros((count, 1))]),
            np.concatenate([-ones, zeros, [1.0]]),
            whole_cost,
        ]
    )
    low = np.concatenate([np.ones(2 * rows), np.zeros(count + 1), [0.0]])
    high = np.concatenate([np.full(2 * rows + count + 1, np.inf), [best * (1 + _PROOF)]])
    top = np.concatenate([longest, ones, [max(task.limit, least)]])
    with _output_to_errors():
        answer = milp(
            whole_cost,
            integrality=np.concatenate([zeros, ones, [0.0]]),
            bounds=Bounds(np.concatenate([zeros, zeros, [least]]), top),
            constraints=LinearConstraint(matrix, low, high),
            options={"mip_rel_gap": _GAP, "time_limit": _SECONDS},
        )
    used = None if answer.x is None else np.flatnonzero(answer.x[count : 2 * count] > 0.5)
    return used, answer.status in (0, 2)
