"""The case before the rules: one cycle of one endoscope, its equipment and the policy, at one instant."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import Cabinet, Detergent, Disinfectant, Washer
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey import saying
from lumenward.journey.clocks import Clock, hang
from lumenward.journey.course import Course
from lumenward.journey.event import Event
from lumenward.journey.states import BatchState, ChargeState, EndoscopeState, World


@dataclass(frozen=True)
class Case:
    """Everything a rule may look at. `course` holds the acts of the cycle up to `now`, corrections applied."""

    world: World
    endoscope: EndoscopeState
    cycle: str
    course: Course
    model: EndoscopeModel
    library: Library
    policy: Policy
    now: datetime

    def names(self, channels: Iterable[str]) -> str:
        """Return channels by name, in a sentence."""
        found = (self.model.channel(one) for one in channels)
        return saying.listed(one.name for one in found if one is not None)

    def done(self, act: Event) -> str:
        """Return when and by whom: "at 10:32 by Ana"."""
        return saying.done(self.world, act, self.now)

    def person(self, person_id: str) -> str:
        """Return a person's name."""
        return saying.person(self.world, person_id)

    def clock(self, at: datetime) -> str:
        """Return a time in words."""
        return saying.clock(at, self.now)

    @cached_property
    def cleaning(self) -> Event | None:
        """The start of cleaning of the present round."""
        return self.course.latest("cleaning_started")

    @cached_property
    def batches(self) -> list[tuple[Event, BatchState]]:
        """The detergent this round of cleaning lay in: how it was dosed, and what became of it."""
        named = self.cleaning.body["batches"] if self.cleaning else []
        pairs = ((self.dosing(one), self.world.batch(one)) for one in named)
        return [(dosed, batch) for dosed, batch in pairs if dosed is not None and batch is not None]

    def dosing(self, batch_id: str) -> Event | None:
        """Return the dosing as it counts after corrections."""
        own = next((act for act in self.course.acts if act.id == batch_id), None)
        return own or self.world.event(batch_id)

    def detergent(self, product: str) -> Detergent | None:
        """Return a detergent's label."""
        return next((one for one in self.library.detergents if one.id == product), None)

    @cached_property
    def bath(self) -> tuple[ChargeState, Disinfectant] | None:
        """The charge and label of the manual disinfection that counts, or of the one under way."""
        begun = self.immersion
        charge = self.world.charge(begun.body["charge"]) if begun else None
        if charge is None:
            return None
        label = next((one for one in self.library.disinfectants if one.id == charge.disinfectant), None)
        return None if label is None else (charge, label)

    @cached_property
    def immersion(self) -> Event | None:
        """The start of the manual disinfection that counts, or of the one under way."""
        pair = self.course.disinfection
        begun = pair[0] if pair else self.course.under_way
        return begun if begun is not None and begun.kind == "hld_started" else None

    @cached_property
    def by_machine(self) -> bool:
        """Whether the disinfection that counts, or runs, is a machine's."""
        pair = self.course.disinfection
        begun = pair[0] if pair else self.course.under_way
        return begun is not None and begun.kind == "machine_cycle_started"

    @cached_property
    def washer(self) -> Washer | None:
        """The machine of the disinfection that counts."""
        pair = self.course.disinfection
        named = pair[0].body.get("washer") if pair and self.by_machine else None
        return next((one for one in self.library.washers if one.id == named), None)

    @cached_property
    def cabinet(self) -> Cabinet | None:
        """The place where it waits."""
        stored = self.course.stored
        named = stored.body["cabinet"] if stored else None
        return next((one for one in self.library.cabinets if one.id == named), None)

    @cached_property
    def hang(self) -> Clock | None:
        """The clock of its hang time, once it is dry and in a known place with a stated limit."""
        if self.course.dried is None or self.cabinet is None:
            return None
        return hang(self.model, self.policy, self.cabinet, self.course.dried.happened_at)
