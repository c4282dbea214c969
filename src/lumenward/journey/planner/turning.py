"""In which turns of the clamps a pump serves every channel soonest: one plan for the sink and for the channel map.

An open wide line takes nearly all of the pump. The clamp plan of the hydraulics finds the settings that end sooner
than all lines open, within the pressures that the IFU allows; each further setting must earn the seconds it costs.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from lumenward.equipment.endoscope import Channel, EndoscopeModel
from lumenward.equipment.fittings import ConnectorSet, Pump
from lumenward.equipment.policy import Policy
from lumenward.journey import needs
from lumenward.journey.numbers import deciding, floor_for_channels, targets_for
from lumenward.quantities import Refusal, to_si

if TYPE_CHECKING:
    from lumenward.hydraulics.clamps import ClampPlan

SWITCH_S = 5.0  # what one change of the clamps takes: common practice, no source
MOST_TURNS = 3  # more cannot be kept in mind at a wet sink: common practice, no source
WIDE_MM = 2.0
_DEARER = (1, 2, 4, 8, 16)  # times SWITCH_S, until the plan needs no more than MOST_TURNS


@dataclass(frozen=True)
class Pumping:
    """How long the clamps stand in one setting, changing them included, and which ports are open meanwhile."""

    seconds: float
    open: tuple[str, ...]


@dataclass(frozen=True)
class Turning:
    """The settings in order; `plan` what they were taken from, None where it could not be computed, and why not."""

    parts: tuple[Pumping, ...] = ()
    plan: ClampPlan | None = None
    refusal: Refusal | None = None

    @property
    def seconds(self) -> float:
        """Return how long all of it takes."""
        return math.fsum(part.seconds for part in self.parts)

    def lasting(self, floor_s: float) -> list[Pumping]:
        """Return the turns drawn out in proportion to a floor, in whole seconds that add up to it."""
        stretch = max(1.0, floor_s / self.seconds) if self.seconds else 1.0
        whole = [Pumping(float(round(part.seconds * stretch)), part.open) for part in self.parts]
        rest = max(floor_s, round(self.seconds)) - math.fsum(part.seconds for part in whole[:-1])
        return [*whole[:-1], Pumping(rest, whole[-1].open)] if whole else []


# Models compare by value but do not hash, so the cache keeps them by identity with their owner alive.
class ByIdentity:
    """A description as the key of a cache."""

    def __init__(self, thing: Any) -> None:
        self.thing = thing

    def __hash__(self) -> int:
        return id(self.thing)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, ByIdentity) and other.thing is self.thing


def turning(
    model: EndoscopeModel,
    kind: ConnectorSet,
    pump: Pump,
    temperature_c: float,
    volumes: float,
    step: str,
    policy: Policy | None = None,
) -> Turning:
    """Return the turns in which every channel gets `volumes` of its own, or what is stated for it where that is more.

    Water of the whole degree at or below `temperature_c`. Under a `policy` its volumes and floors, and the IFU's,
    count: within the floor the fewest turns are taken. Nothing for a model without channels. Channels straight, clean
    and level.
    """
    if not model.channels:
        return Turning()
    stated = _stated_m3(model, policy, step) if policy else tuple((one, 0.0) for one in needs.channels(model))
    floor = floor_for_channels(model, policy, step, needs.channels(model)) if policy else None
    return _turning(
        ByIdentity(model), ByIdentity(kind), ByIdentity(pump), max(1.0, float(math.floor(temperature_c))), volumes,
        stated, floor.value if floor else 0.0,
    )  # fmt: skip


def _stated_m3(model: EndoscopeModel, policy: Policy, step: str) -> tuple[tuple[str, float], ...]:
    """Return the volume that IFU or policy state for each channel, m3."""
    found = []
    for channel in needs.channels(model):
        floor = deciding(targets_for(model, policy, step, channel), "volume", "floor")
        found.append((channel, to_si(floor.value, floor.unit) if floor else 0.0))
    return tuple(found)


@lru_cache(maxsize=512)
def _turning(
    model: ByIdentity, kind: ByIdentity, pump: ByIdentity, temperature_c: float, volumes: float,
    stated_m3: tuple[tuple[str, float], ...], floor_s: float,
) -> Turning:  # fmt: skip
    from lumenward.hydraulics.assemble import channel_volumes_m3

    held = channel_volumes_m3(model.thing)
    needed = {name: max(volumes * held[name], stated) for name, stated in stated_m3}
    bench = (model.thing, kind.thing, pump.thing, temperature_c)
    try:
        plan = _clamp_plan(*bench, needed, floor_s)
    except ImportError:
        return Turning(_two_turns(*bench, needed))
    except Refusal as refusal:
        return Turning(_all_open(*bench, needed), refusal=refusal)
    return Turning(_parts(kind.thing, plan), plan)


def _clamp_plan(
    model: EndoscopeModel, kind: ConnectorSet, pump: Pump, temperature_c: float, needed: Mapping[str, float],
    floor_s: float,
) -> ClampPlan:  # fmt: skip
    from lumenward.hydraulics.assemble import assemble, port_tube
    from lumenward.hydraulics.clamps import clamp_plan

    network = assemble(model, kind, pump, temperature_c)
    ports = [port_tube(tube.port) for tube in kind.tubes if tube.clamp]
    wanted: dict[str, float] = {}
    caps: dict[str, float] = {}
    for channel in model.channels:
        first = channel.tubes[0]
        wanted[first] = max(needed[channel.id], wanted.get(first, 0.0))
        if channel.max_pressure_kpa:
            caps[first] = min(to_si(channel.max_pressure_kpa, "kPa"), caps.get(first, math.inf))
    for times in _DEARER:
        found = clamp_plan(network, ports, wanted, caps or None, SWITCH_S * times, floor_s)
        if len(found.turns) <= MOST_TURNS:
            break
    return found


def _parts(kind: ConnectorSet, plan: ClampPlan) -> tuple[Pumping, ...]:
    """Return the turns as they are without a floor; the clamps of the first are set before the pump runs."""
    from lumenward.hydraulics.assemble import port_tube

    running, stretched = plan.schedule.running_s, plan.schedule.stretched_s
    share = (running - stretched) / running if running else 1.0
    return tuple(
        Pumping(
            turn.duration_s * share + (SWITCH_S if place else 0.0),
            tuple(tube.port for tube in kind.tubes if not tube.clamp or port_tube(tube.port) in turn.open),
        )
        for place, turn in enumerate(plan.turns)
    )


def _all_open(
    model: EndoscopeModel, kind: ConnectorSet, pump: Pump, temperature_c: float, needed: Mapping[str, float]
) -> tuple[Pumping, ...]:
    together = _seconds(needed, _flows(model, kind, pump, temperature_c, ()), needed)
    return (Pumping(together, tuple(tube.port for tube in kind.tubes)),)


def _two_turns(
    model: EndoscopeModel, kind: ConnectorSet, pump: Pump, temperature_c: float, needed: Mapping[str, float]
) -> tuple[Pumping, ...]:
    """Return the narrow channels alone, then every line open; or every line at once where that ends sooner.

    Also where the narrow channels alone would go above a pressure of the IFU.
    """
    wide = _wide(model, kind)
    bench = (model, kind, pump, temperature_c)
    (together,) = _all_open(*bench, needed)
    narrow = [channel for channel in model.channels if channel.port not in wide]
    if not wide or not narrow or _too_strong(*bench, wide, narrow):
        return (together,)
    names = [channel.id for channel in narrow]
    first = _seconds(needed, _flows(*bench, wide), names)
    second = _seconds(needed, _flows(*bench, ()), [name for name in needed if name not in names]) + SWITCH_S
    if first + second >= together.seconds:
        return (together,)
    return (
        Pumping(first, tuple(port for port in together.open if port not in wide)),
        Pumping(second, together.open),
    )


def _too_strong(
    model: EndoscopeModel, kind: ConnectorSet, pump: Pump, temperature_c: float, clamped: tuple[str, ...],
    channels: Iterable[Channel],
) -> bool:  # fmt: skip
    from lumenward.hydraulics.assemble import assemble
    from lumenward.hydraulics.solver import solve

    flow = solve(assemble(model, kind, pump, temperature_c, clamped))
    nodes = {port.id: port.node for port in model.ports}
    return any(
        channel.max_pressure_kpa and flow.at(nodes[channel.port]) > to_si(channel.max_pressure_kpa, "kPa")
        for channel in channels
    )


def _wide(model: EndoscopeModel, kind: ConnectorSet) -> tuple[str, ...]:
    """Return the clampable ports whose channel is nowhere narrower than `WIDE_MM`."""
    bores = {tube.id: tube.bore_mm for tube in model.tubes}
    clampable = {tube.port for tube in kind.tubes if tube.clamp}
    return tuple(
        dict.fromkeys(
            channel.port
            for channel in model.channels
            if channel.port in clampable and min(bores[name] for name in channel.tubes) >= WIDE_MM
        )
    )


def _flows(
    model: EndoscopeModel, kind: ConnectorSet, pump: Pump, temperature_c: float, clamped: tuple[str, ...]
) -> dict[str, float]:
    from lumenward.hydraulics.assemble import assemble, channel_flows_m3_s
    from lumenward.hydraulics.solver import solve

    network = assemble(model, kind, pump, temperature_c, clamped)
    return channel_flows_m3_s(model, solve(network))


def _seconds(needed: Mapping[str, float], flows: Mapping[str, float], channels: Iterable[str]) -> float:
    return max(needed[name] / flows[name] if flows[name] else math.inf for name in channels)
