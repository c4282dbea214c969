"""The seam to the hydraulics: numbers computed for this endoscope, this connector set, this pump and this water.

They stand beside the stated numbers with the basis "computed", and may lengthen a step, never shorten one. Where
geometry is missing the list is empty and the stated numbers stand alone.

An open wide line takes nearly all of the pump, so the pump serves the channels in two turns of the clamps where
that is quicker: first the narrow channels alone, the wide lines shut; then every line open.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import ConnectorSet, Pump
from lumenward.journey.numbers import deciding, targets_for
from lumenward.journey.planner.drying import dry_targets
from lumenward.journey.saying import inside, listed
from lumenward.journey.target import Target
from lumenward.quantities import to_si

if TYPE_CHECKING:
    from lumenward.journey.planner.bench import Bench

# Channel volumes that each step should pump through every channel: common practice, no source.
VOLUMES = {"flush": 10.0, "rinse": 10.0, "purge": 2.0}
RINSE_WATER_C = 20.0
WIDE_MM = 2.0
CUP_S = 10.0


@dataclass(frozen=True)
class Pumping:
    """How long the clamps stand in one setting, from the timer's start, and which ports are open meanwhile."""

    seconds: float
    open: tuple[str, ...]


def computed_targets(bench: Bench, step: str) -> list[Target]:
    """Return the computed targets of a step; empty where nothing can be computed.

    For flush, rinse and purge: seconds until every channel has had `VOLUMES` of its own, or the volume stated for it
    where that is more, in the turns of `turns_of`.
    Straight, clean, level channels full of water; a purge is reckoned as if the fluid still filled them.
    """
    if step == "dry":
        return dry_targets(bench)
    if step not in VOLUMES:
        return []
    pumping = _pumping(bench, step)
    if not pumping:
        return []
    turns = "" if len(pumping) == 1 else ", in two turns of the clamps"
    return [
        Target(
            step=step, quantity="duration", bound="floor", value=float(round(pumping[-1].seconds)), unit="s",
            basis="computed",
            source=f"{VOLUMES[step]:g} volumes of each channel, or what is stated for it{turns}; {bench.pump.name}, "
            f"water at {_temperature_c(bench, step):g} °C, channels straight and clean",
        )
    ]  # fmt: skip


def turns_of(bench: Bench, step: str, floor_s: float) -> list[dict[str, Any]]:
    """Return the turns of the clamps of a pumped step as drawings, the last one lasting to its floor.

    `{"title", "seconds", "shut", "focus", "then", "shut_words"}`: `shut` the ports whose clamps are closed, `focus`
    the channels that are served, `then` what to do at the end. A single turn is none.
    """
    pumping = _pumping(bench, step)
    if len(pumping) < 2:
        return []
    first, last = pumping
    wide = [port for port in last.open if port not in first.open]
    names = listed(inside(port.name) for port in bench.model.ports if port.id in wide)
    narrow = [channel.id for channel in bench.model.channels if channel.port not in wide]
    seconds = float(round(first.seconds))
    return [
        {
            "title": "What should come out, turn 1", "seconds": seconds, "shut": wide, "focus": narrow,
            "then": f"open {names}", "shut_words": names,
        },
        {
            "title": "What should come out, turn 2", "seconds": max(floor_s, last.seconds) - seconds, "shut": [],
            "focus": [channel for channel in bench.channels if channel not in narrow], "then": "", "shut_words": "",
        },
    ]  # fmt: skip


def expected(bench: Bench, step: str = "flush") -> list[dict[str, Any]]:
    """Return what should leave each outlet into a cup in 10 s, one row an outlet and turn; empty if not computed.

    `{"turn", "outlet", "channels", "name", "seconds", "ml", "look_ml"}`: at `look_ml` or less it is worth a look.
    """
    kind = connector_kind(bench)
    if kind is None or not bench.channels:
        return []
    settings = tuple(part.open for part in _pumping(bench, step))
    rows = _cup(bench.model, kind, bench.pump, _temperature_c(bench, step), settings)
    return [_named(bench, row) for row in rows]


def connector_kind(bench: Bench) -> ConnectorSet | None:
    """Return the kind of the set that is on, else the first that fits and could be taken."""
    on = bench.world.connector_set(str(bench.body_of("connected").get("connector_set", "")))
    fitting = [kind for kind in bench.library.connector_sets if bench.model.id in kind.fits]
    worn = [kind for kind in fitting if on and kind.id == on.kind]
    return next(iter(worn or fitting), None)


def _temperature_c(bench: Bench, step: str) -> float:
    """Return the measured temperature of the detergent, else the colder end of its label; water cooler still."""
    if step == "rinse":
        return RINSE_WATER_C
    measured = bench.body_of("detergent_dosed").get("temperature_c")
    if isinstance(measured, int | float):
        return float(measured)
    return min((one.temperature_low_c for one in bench.detergents), default=RINSE_WATER_C)


def _pumping(bench: Bench, step: str) -> tuple[Pumping, ...]:
    kind = connector_kind(bench)
    if kind is None or not bench.channels:
        return ()
    return _schedule(
        _ByIdentity(bench.model), _ByIdentity(kind), _ByIdentity(bench.pump), _temperature_c(bench, step),
        VOLUMES[step], _stated_m3(bench, step),
    )  # fmt: skip


def _stated_m3(bench: Bench, step: str) -> tuple[tuple[str, float], ...]:
    """Return the volume that IFU or policy state for each channel, m3."""
    found = []
    for channel in bench.channels:
        stated = targets_for(bench.model, bench.policy, step, channel)
        floor = deciding(stated, "volume", "floor")
        found.append((channel, to_si(floor.value, floor.unit) if floor else 0.0))
    return tuple(found)


# Models compare by value but do not hash, so the cache keeps them by identity with their owner alive.
class _ByIdentity:
    def __init__(self, thing: Any) -> None:
        self.thing = thing

    def __hash__(self) -> int:
        return id(self.thing)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _ByIdentity) and other.thing is self.thing


@lru_cache(maxsize=512)
def _schedule(
    model: _ByIdentity,
    kind: _ByIdentity,
    pump: _ByIdentity,
    temperature_c: float,
    volumes: float,
    stated_m3: tuple[tuple[str, float], ...],
) -> tuple[Pumping, ...]:
    """Return one setting (all open) or two (narrow alone, then all open), whichever ends sooner."""
    from lumenward.hydraulics.assemble import channel_volumes_m3

    described: EndoscopeModel = model.thing
    held = channel_volumes_m3(described)
    needed = {name: max(volumes * held[name], stated) for name, stated in stated_m3}
    wide = _wide(described, kind.thing)
    ports = tuple(tube.port for tube in kind.thing.tubes)
    all_open = _flows(described, kind.thing, pump.thing, temperature_c, ())
    together = _seconds(needed, all_open, needed)
    if not wide or len(wide) == len(ports):
        return (Pumping(together, ports),)
    narrow_open = _flows(described, kind.thing, pump.thing, temperature_c, wide)
    narrow = [channel.id for channel in described.channels if channel.port not in wide]
    first = _seconds(needed, narrow_open, narrow)
    second = _seconds(needed, all_open, [name for name in needed if name not in narrow])
    if first + second >= together:
        return (Pumping(together, ports),)
    return (
        Pumping(first, tuple(port for port in ports if port not in wide)),
        Pumping(first + second, ports),
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


def _cup(
    model: EndoscopeModel,
    kind: ConnectorSet,
    pump: Pump,
    temperature_c: float,
    settings: tuple[tuple[str, ...], ...],
) -> tuple[dict[str, Any], ...]:
    return _cup_of(_ByIdentity(model), _ByIdentity(kind), _ByIdentity(pump), temperature_c, settings)


@lru_cache(maxsize=512)
def _cup_of(
    model: _ByIdentity,
    kind: _ByIdentity,
    pump: _ByIdentity,
    temperature_c: float,
    settings: tuple[tuple[str, ...], ...],
) -> tuple[dict[str, Any], ...]:
    from lumenward.hydraulics.assemble import assemble, port_tube
    from lumenward.hydraulics.outflow import expected_outflow

    network = assemble(model.thing, kind.thing, pump.thing, temperature_c)
    ports = [port_tube(tube.port) for tube in kind.thing.tubes]
    opened = [[port_tube(port) for port in setting] for setting in settings]
    turn = {tuple(one): number + 1 for number, one in enumerate(opened)}
    return tuple(
        {
            "turn": turn[line.open],
            "outlet": line.outlet,
            "seconds": line.seconds,
            "ml": round(line.volume_ml, 1),
            "look_ml": round(line.look_m3 * 1e6, 1),
        }
        for line in expected_outflow(network, ports, CUP_S, opened)
    )


def _named(bench: Bench, row: dict[str, Any]) -> dict[str, Any]:
    through = [channel for channel in bench.model.channels if channel.tubes[-1] == row["outlet"]]
    names = listed([channel.name.lower() for channel in through]) or str(row["outlet"])
    return row | {"channels": [channel.id for channel in through], "name": names}
