"""Learning a basin's carry-over from its own readings, with an interval that says how much they tell.

Each charge falls as c_n = c0 e^(−λ n) with its own λ (another mix of endoscopes, another pair of hands). ln λ
varies between charges as a normal with an unknown centre and an unknown spread; both are learned together on a
grid, and with them the prediction for the charge in use. A titration is ln c ± spread; a test strip passes with
probability Φ(ln(c/MEC)/spread). Prior: ln λ flat from 2e-4 to 0.5 a cycle; the spread between charges is half
normal with scale 0.5; the start is the stated one within its own spread. Standard Bayes on a grid, no sampling.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from lumenward.quantities import Refusal, require_between

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

_LN_FALL = np.linspace(np.log(2e-4), np.log(0.5), 391)
_BETWEEN = np.array([0.02, 0.1, 0.2, 0.3, 0.45, 0.6, 0.8, 1.1, 1.5])
_BETWEEN_SCALE = 0.5
_START_NODES, _START_WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
SAYS_LITTLE_RATIO = 4.0


@dataclass(frozen=True)
class Reading:
    """One test of a charge after so many cycles: a measured concentration (%), or whether the strip passed."""

    cycles: float
    percent: float | None = None
    passed: bool | None = None
    charge: str = ""


@dataclass(frozen=True)
class Instrument:
    """How far one reading strays (relative standard deviation) and how far a fresh charge strays from its label."""

    reading_spread: float
    start_spread: float


@dataclass(frozen=True)
class Learned:
    """The predicted last passing cycle: middle value and 95 % interval, and the fall for each cycle behind it.

    `says_little` is True when the interval is so wide that the readings hardly narrow it.
    """

    low: int
    median: int
    high: int
    fall_low: float
    fall_median: float
    fall_high: float
    says_little: bool


def learn(
    history: Sequence[Reading],
    start_percent: float,
    minimum_percent: float,
    instrument: Instrument,
    charge: str | None = None,
) -> Learned:
    """Return the predicted last passing cycle of `charge` (of a new one where None) with its 95 % interval.

    Raises Refusal `empty` without readings, `bad-reading` naming the first that is neither a concentration nor a
    pass or fail, `too-low`/`too-high` for figures that cannot be meant.
    """
    _require_sound(history, start_percent, minimum_percent, instrument)
    charges = sorted({reading.charge for reading in history})
    joint = {
        name: _charge_likelihood(
            [r for r in history if r.charge == name], start_percent, minimum_percent, instrument
        )
        for name in charges
    }
    prior = _population({name: table for name, table in joint.items() if name != charge})
    table = joint.get(charge) if charge is not None else None
    return _predict(prior, table, start_percent, minimum_percent, instrument.start_spread)


def _charge_likelihood(
    readings: Sequence[Reading], start: float, minimum: float, instrument: Instrument
) -> Array:
    """Likelihood of one charge's readings, by fall (rows) and start (columns)."""
    starts = np.log(start) + instrument.start_spread * _START_NODES
    total = np.zeros((_LN_FALL.size, starts.size))
    for reading in readings:
        expected = starts[None, :] - np.exp(_LN_FALL)[:, None] * reading.cycles
        total += _log_likelihood(reading, expected, minimum, instrument.reading_spread)
    likelihood: Array = np.exp(total - total.max())
    return likelihood


def _log_likelihood(reading: Reading, expected: Array, minimum: float, spread: float) -> Array:
    if reading.percent is not None:
        result: Array = -0.5 * ((np.log(reading.percent) - expected) / spread) ** 2
        return result
    from scipy.special import log_ndtr

    sign = 1.0 if reading.passed else -1.0
    passing: Array = log_ndtr(sign * (expected - np.log(minimum)) / spread)
    return passing


def _population(others: dict[str, Array]) -> Array:
    """Prior of ln λ for one charge given every other charge's readings (the population integrated out)."""
    weights = _START_WEIGHTS / _START_WEIGHTS.sum()
    marginals = [table @ weights for table in others.values()]
    prior = np.zeros(_LN_FALL.size)
    for between in _BETWEEN:
        kernel = np.exp(-0.5 * ((_LN_FALL[:, None] - _LN_FALL[None, :]) / between) ** 2)
        kernel /= kernel.sum(axis=1, keepdims=True)
        centre = np.full(_LN_FALL.size, np.exp(-0.5 * (between / _BETWEEN_SCALE) ** 2))
        for marginal in marginals:
            centre = centre * (kernel @ marginal)
        prior += centre @ kernel
    normal: Array = prior / prior.sum()
    return normal


def _predict(prior: Array, table: Array | None, start: float, minimum: float, start_spread: float) -> Learned:
    weights = _START_WEIGHTS / _START_WEIGHTS.sum()
    posterior = prior[:, None] * weights[None, :] * (1.0 if table is None else table)
    posterior /= posterior.sum()
    falls = np.exp(_LN_FALL)
    reserve = np.maximum(np.log(start / minimum) + start_spread * _START_NODES, 0.0)
    cycles = reserve[None, :] / falls[:, None]
    low, median, high = _quantiles(cycles.ravel(), posterior.ravel())
    fall_low, fall_median, fall_high = _quantiles(falls, posterior.sum(axis=1))
    little = high > SAYS_LITTLE_RATIO * max(low, 1.0)
    return Learned(
        int(low), int(median), int(high), float(fall_low), float(fall_median), float(fall_high), bool(little)
    )


def _quantiles(values: Array, weights: Array) -> tuple[float, float, float]:
    order = np.argsort(values)
    middle = np.cumsum(weights[order]) - weights[order] / 2
    low, median, high = np.interp([0.025, 0.5, 0.975], middle, values[order])
    return float(low), float(median), float(high)


def _require_sound(history: Sequence[Reading], start: float, minimum: float, instrument: Instrument) -> None:
    if not history:
        raise Refusal("empty", "There is no reading to learn from.", "history", "Give at least one reading.")
    require_between(
        instrument.reading_spread, 0.005, 0.5, "reading_spread", "The relative spread of a reading"
    )
    require_between(
        instrument.start_spread, 0.0, 0.3, "start_spread", "The relative spread of a fresh charge"
    )
    if not 0 < minimum < start:
        raise Refusal(
            "already-below", f"{start:g} % is not above {minimum:g} %.", "minimum_percent", "Check both."
        )
    for index, reading in enumerate(history):
        _require_reading(reading, f"history[{index}]")


def _require_reading(reading: Reading, field: str) -> None:
    require_between(reading.cycles, 0, 2000, f"{field}.cycles", "The cycles since the charge was made")
    if (reading.percent is None) == (reading.passed is None):
        raise Refusal(
            "bad-reading",
            f"{field}: either a concentration or a pass or fail is needed.",
            field,
            "Give one of the two.",
        )
    if reading.percent is not None:
        require_between(reading.percent, 1e-4, 100, f"{field}.percent", "A concentration", "%")
