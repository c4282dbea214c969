"""What a told act is made of, and who knows the names of things."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.fittings import Disinfectant
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey import saying
from lumenward.journey.course import Course, channels_of
from lumenward.journey.event import Event
from lumenward.journey.numbers import Label, deciding, targets_for
from lumenward.journey.states import World
from lumenward.journey.target import Target
from lumenward.quantities import Refusal, show_duration, show_in, show_number


@dataclass(frozen=True)
class Number:
    """One number of an act: what it is, how it reads, and between which limits by whose word."""

    label: str
    shown: str
    basis: str = ""


@dataclass(frozen=True)
class Told:
    """One act in words."""

    sentence: str
    numbers: list[Number] = field(default_factory=list)


@dataclass
class Teller:
    """Tells the acts of one endoscope with the library and policy that were in force when each happened."""

    world: World
    act: Event
    course: Course
    endoscope: str = ""

    @property
    def body(self) -> dict[str, Any]:
        """What the act says."""
        return self.act.body

    @cached_property
    def library(self) -> Library:
        """The library of that instant."""
        return self.world.library(self.act.happened_at)

    @cached_property
    def policy(self) -> Policy:
        """The policy of that instant."""
        return self.world.policy(self.act.happened_at)

    @cached_property
    def model(self) -> EndoscopeModel | None:
        """The endoscope's model, where the library of that instant has it."""
        found = self.world.endoscope(self.endoscope or self.act.subject)
        return next((one for one in self.library.endoscopes if found and one.id == found.model), None)

    def thing(self, shelf: str, thing_id: object) -> Any:
        """Return what the library calls an id, or None."""
        return next((one for one in getattr(self.library, shelf) if one.id == thing_id), None)

    def name(self, thing_id: object, *shelves: str) -> str:
        """Return the name of a thing of the library, or its id where the library does not know it."""
        found = next((one for shelf in shelves if (one := self.thing(shelf, thing_id))), None)
        return str(found.name) if found else str(thing_id)

    def person(self, person_id: object) -> str:
        """Return a person's name."""
        return saying.person(self.world, str(person_id))

    def lot(self, lot_id: object) -> str:
        """Return "lot A17", or nothing where no lot was named."""
        if not lot_id:
            return ""
        found = self.world.lot(str(lot_id))
        return f"lot {found.lot if found else lot_id}"

    def channels(self) -> str:
        """Return the channels an act names, in words."""
        return saying.listed(self.channel(one) for one in channels_of(self.act))

    def channel(self, channel_id: str) -> str:
        """Return one channel's name as it stands in a sentence."""
        found = self.model.channel(channel_id) if self.model else None
        return found.name.lower() if found else channel_id

    def ports(self, ids: Iterable[object]) -> str:
        """Return ports by name."""
        known = {port.id: port.name.lower() for port in self.model.ports} if self.model else {}
        return saying.listed(known.get(str(one), str(one)) for one in ids)

    def disinfectant(self) -> Disinfectant | None:
        """Return the label of the charge an act names."""
        charge = self.world.charge(str(self.body.get("charge", "")))
        found = self.thing("disinfectants", charge.disinfectant) if charge else None
        return found if isinstance(found, Disinfectant) else None

    def limits(self, step: str, quantity: str, label: Label | None = None, **more: Any) -> str:
        """Return who asks for what in a step, in words; nothing where nobody does."""
        if self.model is None:
            return ""
        channels: list[str | None] = [*channels_of(self.act)] or [None]
        try:
            stated = [
                target
                for channel in channels
                for target in targets_for(self.model, self.policy, step, channel, label, **more)
            ]
        except (KeyError, Refusal):
            return ""
        floor, ceiling = (deciding(stated, quantity, bound) for bound in ("floor", "ceiling"))
        return between(floor, ceiling, self._who_says)

    def _who_says(self, target: Target) -> str:
        """Return the basis and source of a number, without what the record's head says already."""
        ifu = self.model.ifu if self.model else None
        source = target.source
        if ifu is not None and target.basis == "IFU":
            source = source.removeprefix(f"{ifu.cited}, ")
        if target.basis == "policy":
            source = source.removeprefix(f"{self.policy.name}, edition {self.policy.edition}: ")
        return f"{target.basis}, {source}"

    def time(self, step: str, label: str = "time", **more: Any) -> list[Number]:
        """Return how long a timed act lasted beside its floor; nothing where no start is known."""
        lasted = self.course.duration_s(self.act)
        if lasted is None:
            return []
        return [Number(label, show_duration(lasted), self.limits(step, "duration", **more))]

    def amount(self, key: str, label: str, unit: str, basis: str = "") -> list[Number]:
        """Return one measured value of the body with its unit; nothing where it was not given."""
        value = self.body.get(key)
        return [] if value is None else [Number(label, show_in(float(value), unit), basis)]

    def note(self) -> str:
        """Return the note of an act as a sentence of its own."""
        return sentence(self.body.get("note"))


Tell = Callable[[Teller], Told]


def sentence(words: object) -> str:
    """Return free words as a sentence with a space before it, or nothing.

    >>> sentence("seen twice")
    ' Seen twice.'
    """
    text = str(words or "").strip()
    if not text:
        return ""
    return f" {text[0].upper()}{text[1:]}" + ("" if text[-1] in ".!?" else ".")


def in_room(room: object) -> str:
    """Return a room as people say it: "room 3" for "3" and for "room 3".

    >>> in_room("3"), in_room("room 3"), in_room("Theatre 1")
    ('room 3', 'room 3', 'Theatre 1')
    """
    text = str(room)
    return f"room {text}" if text[:1].isdigit() else text


def count(value: object) -> str:
    """Return a bare number as people read it."""
    return show_number(float(str(value)))


def between(floor: Target | None, ceiling: Target | None, who_says: Callable[[Target], str]) -> str:
    """Return the limits of a number in words: "18 to 24 kPa (IFU, p. 18)", "at least 95 s (policy, …)"."""
    if floor is not None and ceiling is not None and who_says(floor) == who_says(ceiling):
        return f"{show_number(floor.value)} to {amount(ceiling)} ({who_says(floor)})"
    told = []
    if floor is not None:
        told.append(f"at least {amount(floor)} ({who_says(floor)})")
    if ceiling is not None:
        told.append(f"at most {amount(ceiling)} ({who_says(ceiling)})")
    return "; ".join(told)


def amount(target: Target) -> str:
    """Return a target's number with its unit, durations in words, counts bare."""
    if target.unit == "s":
        return show_duration(target.value)
    if target.unit == "times":
        return show_number(target.value)
    return show_in(target.value, "°C" if target.unit == "C" else target.unit)
