"""The shortest sequence of clamp settings that gives every channel its volume.

    clamp_plan(network, ports, required_m3, pressure_cap_pa=None, switch_s=0, floor_s=0, shear=None) -> ClampPlan

With everything open the wide channels take the flow and the narrow ones starve. The plan runs a few settings in turn,
narrow channels first. What it computes may be longer than the floor of the IFU, label or policy, never shorter.
Volume through a channel is not evidence that it is clean.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lumenward.hydraulics import bounds
from lumenward.hydraulics.clamp_refusals import infeasible
from lumenward.hydraulics.clamp_settings import Settings, caps_of, every_setting
from lumenward.hydraulics.friction import Array
from lumenward.hydraulics.network import Network
from lumenward.hydraulics.schedule import Schedule, in_one_setting, shortest, unmet

LONGEST_S = 86400.0
LARGEST_M3 = 0.1


@dataclass(frozen=True)
class Shear:
    """Every channel shall see at least `minimum_pa` of wall shear for `seconds`."""

    minimum_pa: float
    seconds: float


@dataclass(frozen=True)
class Turn:
    """One setting of the clamps: the open ports, how long, what flows in each channel, and the highest pressure."""

    open: tuple[str, ...]
    duration_s: float
    flow_m3_s: dict[str, float]
    highest_pa: float


@dataclass(frozen=True, eq=False)
class ClampPlan:
    """The turns in order; times in s, None where that way cannot meet the demands at all.

    `all_open_s` and `one_at_a_time_s` count changes and floor as the plan does. `shares` say which channel's volume
    ("volume") or shear ("shear") answers for which part of the running time; they sum to one. `without_cap_s` and
    `without_switch_s` are what the plan would take without those limits.
    """

    settings: Settings
    turns: tuple[Turn, ...]
    schedule: Schedule
    all_open_s: float | None
    one_at_a_time_s: float | None
    shares: tuple[tuple[str, str, float], ...]
    refused_by_cap: int
    without_cap_s: float
    without_switch_s: float

    @property
    def total_s(self) -> float:
        """Return running time and changes of clamps."""
        return self.schedule.total_s

    def volume_m3(self, channel: str) -> float:
        """Return what passes the channel in the whole plan."""
        return sum(turn.flow_m3_s[channel] * turn.duration_s for turn in self.turns)


def clamp_plan(
    network: Network,
    ports: Sequence[str],
    required_m3: Mapping[str, float],
    pressure_cap_pa: float | Mapping[str, float] | None = None,
    switch_s: float = 0.0,
    floor_s: float = 0.0,
    shear: Shear | None = None,
) -> ClampPlan:
    """Return the shortest plan; `ports` and the keys of `required_m3` are tube ids, volumes in m3.

    A pressure cap in Pa holds everywhere (number) or at named tubes and nodes (mapping). `switch_s` is the cost of
    setting the clamps once, `floor_s` the least running time. Steady flow, liquid full. Raises Refusal `infeasible`
    naming the channel and the limit, and those of `clamp_settings`, out-of-range numbers and the solver.

    >>> from lumenward.hydraulics.network import Fluid, Node, Tube
    >>> ends = (Node("in", 100e3), Node("out", 0.0))
    >>> tubes = (Tube("a", "in", "out", 3.0, 1e-3), Tube("b", "in", "out", 3.0, 1e-3))
    >>> plan = clamp_plan(Network(Fluid.water(20.0), ends, tubes), ["a", "b"], {"a": 20e-6, "b": 10e-6})
    >>> [(turn.open, round(turn.duration_s, 1)) for turn in plan.turns]
    [(('a', 'b'), 24.5)]
    """
    _check_numbers(required_m3, switch_s, floor_s, shear)
    settings = every_setting(network, ports, tuple(required_m3), caps_of(network, pressure_cap_pa))
    demands = np.array(list(required_m3.values()), dtype=float)
    rates = settings.flow
    if shear is not None:
        strong = (settings.shear >= shear.minimum_pa * (1 - 1e-12)).astype(float)
        rates = np.hstack([rates, strong])
        demands = np.concatenate([demands, np.full(len(required_m3), shear.seconds)])
    rates = _within_reach(rates, demands)
    allowed = np.flatnonzero(settings.allowed)
    schedule = shortest(rates[allowed], demands, switch_s, floor_s)
    if schedule is None:
        raise infeasible(
            settings, unmet(rates[allowed], demands)[0], rates, shear.minimum_pa if shear else 0.0
        )
    return _plan(settings, rates, demands, schedule, (switch_s, floor_s))


def _plan(
    settings: Settings, rates: Array, demands: Array, schedule: Schedule, extra: tuple[float, float]
) -> ClampPlan:
    switch_s, floor_s = extra
    allowed = np.flatnonzero(settings.allowed)
    alone = settings.alone[settings.allowed[settings.alone]]
    one_by_one = shortest(rates[alone], demands, switch_s, floor_s)
    plain = shortest(rates[allowed], demands, 0.0, floor_s) if switch_s else schedule
    free = shortest(rates, demands, switch_s, floor_s) if len(allowed) < len(rates) else schedule
    names = [(name, "volume") for name in settings.channels] + [(name, "shear") for name in settings.channels]
    return ClampPlan(
        settings,
        _turns(settings, allowed, schedule),
        schedule,
        _all_open(settings, rates, demands, switch_s, floor_s),
        None if one_by_one is None else one_by_one.total_s,
        tuple((*names[d], float(schedule.shares[d])) for d in np.argsort(-schedule.shares, kind="stable")
              if schedule.shares[d] > 1e-9),
        len(rates) - len(allowed),
        schedule.total_s if free is None else free.total_s,
        schedule.total_s if plain is None else plain.total_s,
    )  # fmt: skip


def _within_reach(rates: Array, demands: Array) -> Array:
    """Return the rates without those so small that a day would not do: rounding and trickles, not flow."""
    return np.where(rates * LONGEST_S >= demands, rates, 0.0)


def _all_open(
    settings: Settings, rates: Array, demands: Array, switch_s: float, floor_s: float
) -> float | None:
    at = settings.all_open
    if at is None or not settings.allowed[at]:
        return None
    seconds = in_one_setting(rates[at], demands)
    return None if seconds is None else max(seconds, floor_s) + switch_s


def _turns(settings: Settings, allowed: NDArray[np.int64], schedule: Schedule) -> tuple[Turn, ...]:
    used = [(int(allowed[k]), float(schedule.seconds[k])) for k in schedule.used]
    gaps = np.array([_gap(settings.network, name) for name in settings.channels])
    used.sort(key=lambda turn: (_mean_gap(settings.flow[turn[0]], gaps), settings.open[turn[0]]))
    return tuple(
        Turn(
            settings.open[k],
            seconds,
            dict(zip(settings.channels, map(float, settings.flow[k]), strict=True)),
            float(settings.highest[k]),
        )
        for k, seconds in used
    )


def _gap(network: Network, name: str) -> float:
    tube = network.tubes[network.tube_index[name]]
    return tube.bore_m - tube.wire_m


def _mean_gap(flow: Array, gaps: Array) -> float:
    """Return the width that the flow of a setting sees on average; the narrow turns come first."""
    total = float(flow.sum())
    return float(flow @ gaps) / total if total > 0 else 0.0


def _check_numbers(
    required_m3: Mapping[str, float], switch_s: float, floor_s: float, shear: Shear | None
) -> None:
    for name, volume in required_m3.items():
        bounds.between(volume, 0.0, LARGEST_M3, f"required_m3.{name}", "A volume", "m3")
    bounds.between(switch_s, 0.0, 3600.0, "switch_s", "The cost of a change of clamps", "s")
    bounds.between(floor_s, 0.0, LONGEST_S, "floor_s", "A floor", "s")
    if shear is not None:
        bounds.between(shear.minimum_pa, 0.0, 1e5, "shear.minimum_pa", "A wall shear", "Pa")
        bounds.between(shear.seconds, 0.0, LONGEST_S, "shear.seconds", "A time of shear", "s")
