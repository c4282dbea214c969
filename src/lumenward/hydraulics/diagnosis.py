"""Which faults fit the readings, which of them these readings cannot tell apart, and what to read next.

    diagnose(table, readings, baseline=()) -> Diagnosis

Readings are total flow, pressure at the gauge and outflow of each outlet, with some ports open. Each fault predicts
them with a spread: bores and supply that nobody knows exactly, and the readings' own noise, 3 % and 0.7 mL/min or
0.7 kPa (assumption, common practice, no source). Within a fault the readings count as jointly normal; over how far a
partial block is left open, as a mixture. A baseline (this endoscope's own earlier readings, when it was in order) tells
its bores and supply, and leaves only what may have drifted since: 0.3 % of the bores, 1 % of the supply.

Simulated upper bound: bubbles, soft kinks and leaking caps are not in it. Location along a channel and kink against
partial block cannot be told by any reading.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from lumenward.hydraulics.fault_classes import classes_of
from lumenward.hydraulics.fault_table import BORE_SPREAD, SUPPLY_SPREAD, Setting, Table
from lumenward.hydraulics.faults import name_of
from lumenward.hydraulics.friction import Array
from lumenward.quantities import Refusal

DRIFT_BORE = 0.003
DRIFT_SUPPLY = 0.01
UNEXPLAINED = 5.0
SURE = 0.9
_ROUNDING = 1e-15


@dataclass(frozen=True)
class Noise:
    """Standard deviations of a reading: a share of it and a fixed part, independent of each other."""

    flow_share: float = 0.03
    flow_m3_s: float = 0.7e-6 / 60
    pressure_share: float = 0.03
    pressure_pa: float = 700.0


@dataclass(frozen=True)
class Reading:
    """What was read with only the ports `open` open; at least one value. SI, pressure gauge."""

    open: tuple[str, ...]
    flow_m3_s: float | None = None
    pressure_pa: float | None = None
    outflow_m3_s: Mapping[str, float] = field(default_factory=dict)

    @property
    def values(self) -> dict[str, float]:
        """Return the values by the names of the table's readings."""
        given = {"flow": self.flow_m3_s, "pressure": self.pressure_pa, **self.outflow_m3_s}
        return {name: value for name, value in given.items() if value is not None}


Spot = tuple[Setting, int]  # a setting of the clamps and a column of its sheet


@dataclass(frozen=True, eq=False)
class Beliefs:
    """What bores and supply are held to be: mean (P,) and covariance (P, P) of the table's unknowns."""

    mean: Array
    spread: Array


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """The outcome: `probability` (H,) of each hypothesis, `weight` (cases,) of each case, classes sorted.

    `classes` are (positions of hypotheses, probability); the probabilities sum to one. `misfit` is how many
    standard deviations the best fault's prediction lies off, on average over the readings.
    """

    table: Table
    noise: Noise
    beliefs: Beliefs
    spots: tuple[Spot, ...]
    values: Array
    probability: Array
    weight: Array
    classes: tuple[tuple[tuple[int, ...], float], ...]
    misfit: float

    @property
    def explained(self) -> bool:
        """Return whether any of the faults fits the readings at all."""
        return self.misfit <= UNEXPLAINED

    @property
    def can_tell(self) -> bool:
        """Return whether the readings settle on one class, and not on one that mixes faults with none."""
        members, probability = self.classes[0]
        return self.explained and probability >= SURE and (members[0] != 0 or len(members) == 1)

    def names(self, hypotheses: Sequence[int]) -> list[str]:
        """Return the names of hypotheses, the fewest faults first."""
        return [name_of(self.table.rig.hypotheses[h]) for h in hypotheses]


def diagnose(
    table: Table, readings: Sequence[Reading], baseline: Sequence[Reading] = (), noise: Noise | None = None
) -> Diagnosis:
    """Return the posterior over the hypotheses of the table, and the classes these readings cannot tell apart.

    Raises Refusal for readings without values, unknown ports and outlets, and values that are no flows or pressures.
    """
    sure = noise or Noise()
    check_readings(table, readings, "readings")
    check_readings(table, baseline, "baseline", least=0)
    full = table.with_settings(
        [r.open for r in (*readings, *baseline) if frozenset(r.open) not in table.sheets]
    )
    beliefs = beliefs_from(full, baseline, sure)
    spots, values = _collected(full, readings)
    predicted, covariance = predictions(full, spots, beliefs, sure)
    apart = values - predicted
    root = np.linalg.cholesky(covariance)
    scaled = np.linalg.solve(root, apart[..., None])[..., 0]
    fit = -0.5 * (scaled**2).sum(axis=1) - np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    probability, weight = _posterior(full, fit)
    return Diagnosis(
        full,
        sure,
        beliefs,
        spots,
        values,
        probability,
        weight,
        classes_of(full.rig, predicted, covariance, probability),
        float(np.sqrt(np.mean(scaled[np.argmax(weight)] ** 2))),
    )


def predictions(table: Table, spots: Sequence[Spot], beliefs: Beliefs, noise: Noise) -> tuple[Array, Array]:
    """Return what each case reads at the spots: means (cases, R) and covariances (cases, R, R), noise included."""
    mean, slope, left = gathered(table, spots)
    predicted = mean + slope @ beliefs.mean
    covariance = slope @ beliefs.spread @ np.swapaxes(slope, 1, 2)
    own = noise_of(table, spots, predicted, noise) ** 2 + left**2
    at = np.arange(len(spots))
    covariance[:, at, at] += own
    return predicted, covariance


def gathered(table: Table, spots: Sequence[Spot]) -> tuple[Array, Array, Array]:
    """Return mean (cases, R), slope (cases, R, P) and what is left over (cases, R) at the spots."""
    sheets = [(table.sheets[setting], column) for setting, column in spots]
    return (
        np.stack([s.mean[s.row, c] for s, c in sheets], axis=1),
        np.stack([s.slope[s.row, c] for s, c in sheets], axis=1),
        np.stack([s.left[s.row, c] for s, c in sheets], axis=1),
    )


def noise_of(table: Table, spots: Sequence[Spot], predicted: Array, noise: Noise) -> Array:
    """Return the standard deviation of each reading around its prediction, same shape."""
    pressure = np.array([table.readings[column] == "pressure" for _, column in spots])
    share = np.where(pressure, noise.pressure_share, noise.flow_share)
    fixed = np.where(pressure, noise.pressure_pa, noise.flow_m3_s)
    return np.asarray(np.hypot(share * predicted, fixed))


def beliefs_from(table: Table, baseline: Sequence[Reading], noise: Noise) -> Beliefs:
    """Return what bores and supply are held to be, before or after the baseline."""
    count = table.unknowns
    start = Beliefs(np.zeros(count), np.eye(count))
    if not baseline:
        return start
    spots, values = _collected(table, baseline)
    mean, slope, left = (part[:1] for part in gathered(table, spots))
    own = noise_of(table, spots, mean, noise) ** 2 + left**2
    covariance = slope[0] @ slope[0].T + np.diag(own[0])
    gain = np.linalg.solve(covariance, slope[0]).T
    spread = np.eye(count) - gain @ slope[0]
    drift = np.zeros(count)
    real = table.rig.real
    drift[:real] = (DRIFT_BORE / BORE_SPREAD) ** 2
    drift[real] = (DRIFT_SUPPLY / SUPPLY_SPREAD) ** 2
    return Beliefs(gain @ (values - mean[0]), (spread + spread.T) / 2 + np.diag(drift))


def check_readings(table: Table, readings: Sequence[Reading], field: str, least: int = 1) -> None:
    """Refuse readings that name what is not there or hold no values."""
    if len(readings) < least:
        raise Refusal("missing", "At least one reading is needed.", field, "Read total flow and pressure.")
    for i, reading in enumerate(readings):
        at = f"{field}[{i}]"
        if not reading.open:
            raise Refusal("missing", "At least one port must be open.", f"{at}.open", "Name the open ports.")
        for port in reading.open:
            if port not in table.rig.ports:
                known = "One of: " + ", ".join(table.rig.ports)
                raise Refusal("unknown-port", f"{port!r} is not among the ports.", f"{at}.open", known)
        if not reading.values:
            hint = "Give flow_m3_s, pressure_pa or outflow_m3_s."
            raise Refusal("missing", "The reading holds no value.", at, hint)
        for outlet in reading.outflow_m3_s:
            if outlet not in table.rig.outlets:
                known = "One of: " + ", ".join(table.rig.outlets)
                raise Refusal("unknown-outlet", f"{outlet!r} is no outlet.", f"{at}.outflow_m3_s", known)
        _check_values(reading, at)


def _check_values(reading: Reading, at: str) -> None:
    for name, value in reading.values.items():
        pressure = name == "pressure"
        field = {"flow": "flow_m3_s", "pressure": "pressure_pa"}.get(name, f"outflow_m3_s.{name}")
        low, high, unit = (-101325.0, 1e7, "Pa") if pressure else (0.0, 1e-3, "m3/s")
        if not (math.isfinite(value) and low - _ROUNDING <= value <= high):
            slip = f"If this is mL/min: did you mean {value / 6e7:.4g}?"
            hint = (
                "kPa times 1000." if pressure else slip if value > 0 else "What flows in or out is 0 or more."
            )
            raise Refusal(
                "out-of-range",
                f"A reading must lie between {low:g} and {high:g} {unit}; found {value:g}.",
                f"{at}.{field}",
                hint,
            )


def _collected(table: Table, readings: Sequence[Reading]) -> tuple[tuple[Spot, ...], Array]:
    found = [
        ((frozenset(reading.open), table.readings.index(name)), value)
        for reading in readings
        for name, value in reading.values.items()
    ]
    return tuple(spot for spot, _ in found), np.array([value for _, value in found])


def _posterior(table: Table, fit: Array) -> tuple[Array, Array]:
    """Return the probability of each hypothesis and of each case."""
    owner = np.array([h for h, _ in table.rig.cases])
    cases_each = np.bincount(owner)[owner]
    log_weight = fit + np.log(table.rig.prior[owner] / cases_each)
    weight = np.exp(log_weight - log_weight.max())
    weight /= math.fsum(weight)
    return np.bincount(owner, weights=weight).astype(float), np.asarray(weight, dtype=float)
