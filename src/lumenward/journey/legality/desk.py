"""The desk: everything a legality check may look at, gathered once for one act."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any, NoReturn, TypeVar

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey import saying
from lumenward.journey.clocks import elapsed_s
from lumenward.journey.course import Course
from lumenward.journey.event import Event
from lumenward.journey.kinds import KINDS, Kind
from lumenward.journey.states import EndoscopeState, World
from lumenward.quantities import Refusal

Thing = TypeVar("Thing")


@dataclass
class Desk:
    """One act before it is recorded, beside the world it would join.

    `builds_on` collects the acts that made it legal: it cannot have happened before any of them.
    """

    world: World
    event: Event
    now: datetime
    body: dict[str, Any]
    builds_on: list[Event] = field(default_factory=list)

    @property
    def kind(self) -> Kind:
        return KINDS[self.event.kind]

    @cached_property
    def endoscope(self) -> EndoscopeState:
        found = self.world.endoscope(self.event.subject)
        if found is None:
            self.no(
                "unknown-endoscope",
                f"No endoscope {self.event.subject} is registered here.",
                "subject",
                "Scan its own label, or register it in Set-up.",
            )
        return found

    @cached_property
    def name(self) -> str:
        return self.endoscope.name

    @cached_property
    def library(self) -> Library:
        return self.world.library(self.event.happened_at)

    @cached_property
    def policy(self) -> Policy:
        return self.world.policy(self.event.happened_at)

    @cached_property
    def model(self) -> EndoscopeModel:
        return self.library.model(self.endoscope.model)

    @cached_property
    def course(self) -> Course:
        return Course(self.world.acts(self.event.cycle))

    def no(self, code: str, message: str, field: str = "", hint: str = "") -> NoReturn:
        """Refuse the act."""
        raise Refusal(code, message, field, hint)

    def thing(self, shelf: str, thing_id: str, kind: type[Thing], key: str, what: str) -> Thing:
        """Return what the library calls `thing_id`, or refuse with the field it was named in."""
        things: Iterable[Any] = getattr(self.library, shelf)
        found = next((one for one in things if one.id == thing_id), None)
        if not isinstance(found, kind):
            known = saying.listed(one.id for one in things) or "none"
            self.no(
                "not-in-library", f"There is no {what} {thing_id} in the library.", key, f"Known: {known}."
            )
        return found

    def need(self, act: Event | None, message: str, hint: str = "", code: str = "out-of-order") -> Event:
        """Refuse unless the act it builds on is there; remember that it builds on it."""
        if act is None:
            self.no(code, message, "kind", hint)
        self.builds_on.append(act)
        return act

    def done(self, act: Event) -> str:
        """Return when and by whom an act was done."""
        return saying.done(self.world, act, self.event.happened_at)

    def not_twice(self, act: Event | None, what: str, hint: str = "") -> None:
        """Refuse a second recording of what is already done, naming who and when."""
        if act is None:
            return
        advice = hint or "Nothing is lost. Go on with the next step; if it was recorded wrongly, correct it."
        self.no("already-done", f"{what} was already recorded {self.done(act)}.", "kind", advice)

    def since(self, act: Event) -> float:
        """Return the real seconds from an act to this one."""
        return elapsed_s(act.happened_at, self.event.happened_at)

    def names(self, channels: Iterable[str]) -> str:
        """Return channels by name, in a sentence."""
        found = (self.model.channel(one) for one in channels)
        return saying.listed(one.name for one in found if one is not None)
