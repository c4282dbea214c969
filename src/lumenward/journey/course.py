"""The course of one cycle: the acts that count, and the round of cleaning that they belong to.

Debris at the inspection or a failed verification sends the endoscope back: what was cleaned before that no longer
counts. A disinfection cut short counts for nothing either. Legality and rules read a cycle only through this.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from typing import Any

from lumenward.journey.clocks import elapsed_s
from lumenward.journey.event import Event
from lumenward.journey.folding import effective

OPENING = ("patient_use_ended", "reprocessing_required")
SINK_WORK = (
    "leak_tested", "cleaning_started", "exterior_cleaned", "channel_brushed", "connected", "aspirated", "flushed",
    "purged", "rinsed", "disconnected",
)  # fmt: skip


class Course:
    """The acts of one cycle in order, corrections applied."""

    def __init__(self, acts: Iterable[Event]) -> None:
        self.acts: list[Event] = effective(acts)

    @cached_property
    def opening(self) -> Event | None:
        return next((act for act in self.acts if act.kind in OPENING), None)

    @cached_property
    def setbacks(self) -> list[Event]:
        """The acts that sent the endoscope back to cleaning."""
        return [act for act in self.acts if _sends_back(act)]

    @cached_property
    def round(self) -> list[Event]:
        """The acts since the last setback."""
        if not self.setbacks:
            return self.acts
        return self.acts[self.acts.index(self.setbacks[-1]) + 1 :]

    def all(self, kind: str, **body: Any) -> list[Event]:
        """Return the acts of a kind in the whole cycle whose body has these values."""
        return [act for act in self.acts if act.kind == kind and _has(act, body)]

    def last(self, kind: str, **body: Any) -> Event | None:
        """Return the last such act of the whole cycle."""
        return next((act for act in reversed(self.acts) if act.kind == kind and _has(act, body)), None)

    def counting(self, kind: str, **body: Any) -> list[Event]:
        """Return such acts of the present round."""
        return [act for act in self.round if act.kind == kind and _has(act, body)]

    def latest(self, kind: str, **body: Any) -> Event | None:
        """Return the last such act of the present round."""
        return next((act for act in reversed(self.round) if act.kind == kind and _has(act, body)), None)

    def by_channel(self, kind: str, **body: Any) -> dict[str, Event]:
        """Return channel -> the last act of the present round that did it."""
        found: dict[str, Event] = {}
        for act in self.counting(kind, **body):
            for channel in channels_of(act):
                found[channel] = act
        return found

    @cached_property
    def brushed(self) -> dict[str, Event]:
        """Channels brushed until nothing came out."""
        return self.by_channel("channel_brushed", debris="none at last pass")

    @cached_property
    def flushed(self) -> dict[str, Event]:
        """Channels in which fluid was seen leaving during the flush."""
        return self.by_channel("flushed", seen_leaving=True)

    @cached_property
    def disinfection(self) -> tuple[Event, Event] | None:
        """The start and the end of the last complete disinfection of the round, by hand or by machine."""
        for start, end in (("hld_started", "hld_ended"), ("machine_cycle_started", "machine_cycle_ended")):
            ended = self.latest(end)
            begun = None if ended is None else self._before(ended, start)
            if begun is not None and ended is not None and ended.body.get("result") == "complete":
                return begun, ended
        return None

    @cached_property
    def under_way(self) -> Event | None:
        """The start of a disinfection that has not ended."""
        ends = {"hld_started": "hld_ended", "machine_cycle_started": "machine_cycle_ended"}
        for act in reversed(self.round):
            if act.kind in ends.values():
                return None
            if act.kind in ends:
                return act
        return None

    def after_disinfection(self, kind: str, **body: Any) -> Event | None:
        """Return the last such act since the last complete disinfection."""
        if self.disinfection is None:
            return None
        ended = self.disinfection[1]
        found = self.latest(kind, **body)
        return found if found is not None and found.order > ended.order else None

    @cached_property
    def dried(self) -> Event | None:
        """The drying that left it dry, unless moisture was seen after it."""
        found = self.after_disinfection("dried")
        return found if found is not None and found.body.get("result") == "dry" else None

    @cached_property
    def stored(self) -> Event | None:
        """Its last storing after drying."""
        found = self.after_disinfection("stored")
        return found if found and self.dried and found.order > self.dried.order else None

    @cached_property
    def worker(self) -> str:
        """Who is at the sink now: the last to work there, or who took over since."""
        for act in reversed(self.acts):
            if act.kind in SINK_WORK or act.kind == "handed_over":
                return act.person
        return ""

    def start_of(self, act: Event) -> Event | None:
        """Return the `step_started` with which a timed act began, unless that was interrupted."""
        named = act.body.get("started")
        found = next((one for one in self.acts if one.id == named and one.kind == "step_started"), None)
        if found is None:
            return None
        step = found.body.get("step")
        broken = (one for one in self.acts if one.kind == "work_interrupted" and one.body.get("step") == step)
        return None if any(found.order < one.order < act.order for one in broken) else found

    def duration_s(self, act: Event) -> float | None:
        """Return the real seconds from a timed act's start to its end, or None where no start is known."""
        start = self.start_of(act)
        return None if start is None else elapsed_s(start.happened_at, act.happened_at)

    def _before(self, act: Event, kind: str) -> Event | None:
        earlier = [one for one in self.round if one.kind == kind and one.order < act.order]
        return earlier[-1] if earlier else None


def channels_of(act: Event) -> list[str]:
    """Return the channels an act names, one or many."""
    one = act.body.get("channel")
    many = act.body.get("channels")
    if isinstance(one, str):
        return [one]
    return [str(name) for name in many] if isinstance(many, list) else []


def _has(act: Event, body: dict[str, Any]) -> bool:
    return all(act.body.get(key) == value for key, value in body.items())


def _sends_back(act: Event) -> bool:
    result = act.body.get("result")
    return (act.kind == "inspected" and result == "debris seen") or (
        act.kind == "cleaning_verified" and result == "fail"
    )
