"""The bench: everything a step is planned from. Builders read it and ask nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from functools import cached_property
from zoneinfo import ZoneInfo

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import Detergent, Pump, Sink
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey import needs, numbers, saying
from lumenward.journey.event import Event
from lumenward.journey.planner.computed import VOLUMES, computed_targets
from lumenward.journey.states import CycleState, EndoscopeState, World
from lumenward.journey.target import Target
from lumenward.quantities import Refusal


@dataclass(frozen=True)
class Bench:
    """One endoscope at one station at one instant; `acts` are its cycle's events, empty before it is opened."""

    world: World
    library: Library
    policy: Policy
    model: EndoscopeModel
    endoscope: EndoscopeState
    sink: Sink
    pump: Pump
    now: datetime
    zone: tzinfo
    cycle: CycleState | None
    acts: Sequence[Event]

    @property
    def channels(self) -> list[str]:
        """The ids of the model's channels in the order of its description."""
        return needs.channels(self.model)

    @property
    def ifu(self) -> str:
        """The IFU as a source: document and edition."""
        return self.model.ifu.cited

    @property
    def has_elevator(self) -> bool:
        """Whether there is an elevator with a recess to clean."""
        return needs.has_elevator(self.model)

    @property
    def verifies(self) -> bool:
        """Whether the policy asks for a cleaning verification of this endoscope after each use."""
        return needs.verified(self.model, self.policy)

    @cached_property
    def leak_methods(self) -> list[str]:
        """The leak test methods the IFU allows, in its order."""
        return list(self.model.ifu.leak_methods)

    def body_of(self, kind: str) -> dict[str, object]:
        """Return the body of the cycle's latest act of a kind; empty when there is none."""
        return next((dict(act.body) for act in reversed(self.acts) if act.kind == kind), {})

    def name_of(self, channel: str) -> str:
        """Return a channel's name as it stands inside a sentence: "suction channel"."""
        found = self.model.channel(channel)
        name = found.name if found else channel
        lowered = saying.inside(name)
        return lowered if "channel" in lowered else f"{lowered} channel"

    @property
    def detergents(self) -> list[Detergent]:
        """The detergents that have an open lot; every detergent where none has."""
        in_use = {lot.product for lot in self.world.lots() if lot.shelf == "detergents"}
        return [one for one in self.library.detergents if one.id in in_use] or self.library.detergents

    @property
    def poured(self) -> list[Detergent]:
        """The detergents mixed in this cycle; before that, every one that could be."""
        mixed = {act.body.get("detergent") for act in self.acts if act.kind == "detergent_dosed"}
        return [one for one in self.library.detergents if one.id in mixed] or self.detergents

    def advice(self, step: str) -> list[str]:
        """Return what the IFU as entered says to a step, the page after its last line."""
        return [
            line if line != advice.say[-1] else f"{line} (IFU, {advice.page})"
            for advice in self.model.ifu.advice
            if advice.step == step
            for line in advice.say
        ]

    def say(self, step: str, always: Sequence[str] = (), otherwise: Sequence[str] = ()) -> list[str]:
        """Return the lines of a step: `always`, then what the IFU says, or `otherwise` where it says nothing."""
        return [*always, *(self.advice(step) or otherwise)]

    def targets(
        self, step: str, channels: Iterable[str] = (), label: numbers.Label | None = None
    ) -> list[Target]:
        """Return every number stated or computed for a step on these channels, each once, highest rank first.

        A default is left out where somebody with authority said something: it does not count there.
        """
        found: dict[Target, None] = {}
        for channel in _each(channels):
            for target in self._targets(step, channel, label):
                found[target] = None
        return sorted(_without_idle_defaults(list(found)), key=lambda target: target.rank)

    def label_targets(self, step: str, label: numbers.Label) -> list[Target]:
        """Return what choosing this product, set or place adds to a step's targets."""
        common = set(self._targets(step, None, None))
        return [target for target in self._targets(step, None, label) if target not in common]

    def deciding(
        self,
        step: str,
        quantity: str,
        bound: str,
        channels: Iterable[str] = (),
        label: numbers.Label | None = None,
    ) -> Target | None:
        """Return the target that decides for a step done on all these channels at once.

        Each channel's own target is found first, so that a number for one channel never hides what another needs.
        """
        each = [
            numbers.deciding(self._targets(step, channel, label), quantity, bound)
            for channel in _each(channels)
        ]
        known = [target for target in each if target is not None]
        if not known:
            return None
        strictest = min if bound == "ceiling" else max
        return strictest(known, key=lambda target: target.value)

    @cached_property
    def _computed(self) -> dict[str, list[Target]]:
        return {step: computed_targets(self, step) for step in (*VOLUMES, "dry")}

    def _targets(self, step: str, channel: str | None, label: numbers.Label | None) -> list[Target]:
        stated = numbers.targets_for(self.model, self.policy, step, channel, label)
        return stated + self._computed.get(step, [])


def _without_idle_defaults(targets: list[Target]) -> list[Target]:
    said = {
        (t.quantity, t.bound) for t in targets if t.basis not in ("default", "computed") and t.channel is None
    }
    return [t for t in targets if t.basis != "default" or (t.quantity, t.bound) not in said]


def _each(channels: Iterable[str]) -> list[str | None]:
    return list(channels) or [None]


def set_up(
    world: World, endoscope_id: str, station_id: str, now: datetime, zone: str, *, again: bool = False
) -> Bench:
    """Return the bench of one endoscope at one station, or raise a Refusal naming what is not known."""
    endoscope = world.endoscope(endoscope_id)
    if endoscope is None or not endoscope.model:
        raise Refusal(
            "unknown-endoscope",
            f"No endoscope {endoscope_id!r} is registered here.",
            "endoscope",
            "Register it in Set-up.",
        )
    library = world.library()
    sink = next((one for one in library.sinks if one.id == station_id), None)
    if sink is None:
        known = ", ".join(one.id for one in library.sinks) or "none"
        raise Refusal(
            "unknown-station",
            f"There is no sink {station_id!r} in the library.",
            "station",
            f"Known: {known}.",
        )
    pump = library.get("pumps", sink.pump)
    assert isinstance(pump, Pump)
    cycle = None if again and endoscope.stage == "ready" else _open_cycle(world, endoscope)
    return Bench(
        world=world,
        library=library,
        policy=world.policy(),
        model=library.model(endoscope.model),
        endoscope=endoscope,
        sink=sink,
        pump=pump,
        now=now,
        zone=ZoneInfo(zone),
        cycle=cycle,
        acts=world.acts(cycle.id) if cycle else (),
    )


def _open_cycle(world: World, endoscope: EndoscopeState) -> CycleState | None:
    """Return the cycle under way. One that ended in a release stays, until the endoscope is taken or used."""
    cycle = world.cycle(endoscope.cycle) if endoscope.cycle else None
    return cycle if cycle and cycle.closed_at is None else None
