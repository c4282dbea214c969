"""A whole legal cycle, and what the verdict would be if one thing in it had been otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import timedelta
from functools import lru_cache
from typing import Any

from one_cycle import Unit

from lumenward.equipment.endoscope import EndoscopeModel
from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey.event import Event
from lumenward.journey.memory import MemoryWorld
from lumenward.rulebook import RULES, Finding, assess, gather

Edit = Callable[[list[Event]], Iterable[Event]]


@lru_cache
def finished(model: str = "sanderling-28", route: str = "manual", **how: Any) -> Unit:
    """Return a unit whose endoscope is stored. Shared between tests: never record into it."""
    return Unit(model, route=route, **dict(how)).to("stored")


def drop(kind: str, **body: Any) -> Edit:
    """Let no such act have been recorded."""
    return lambda events: [e for e in events if not _is(e, kind, body)]


def change(kind: str, /, where: dict[str, Any] | None = None, **body: Any) -> Edit:
    """Let such acts have had this in their body; None takes a key out."""

    def edit(events: list[Event]) -> Iterable[Event]:
        for event in events:
            if _is(event, kind, where or {}):
                changed = {key: value for key, value in {**event.body, **body}.items() if value is not None}
                event = event.model_copy(update={"body": changed})
            yield event

    return edit


def by(kind: str, person: str) -> Edit:
    """Let somebody else have done it."""
    return lambda events: [e.model_copy(update={"person": person}) if e.kind == kind else e for e in events]


def move(kind: str, seconds: float, **body: Any) -> Edit:
    """Let such acts have happened so much later (or earlier); their ids stay."""

    def edit(events: list[Event]) -> Iterable[Event]:
        for event in events:
            if _is(event, kind, body):
                event = event.model_copy(
                    update={"happened_at": event.happened_at + timedelta(seconds=seconds)}
                )
            yield event

    return edit


def lasting(kind: str, seconds: float, **body: Any) -> Edit:
    """Let a timed step have lasted so long, by moving its start."""

    def edit(events: list[Event]) -> Iterable[Event]:
        ends = {e.body.get("started"): e.happened_at for e in events if _is(e, kind, body)}
        for event in events:
            if event.id in ends:
                event = event.model_copy(update={"happened_at": ends[event.id] - timedelta(seconds=seconds)})
            yield event

    return edit


def only_with(kind: str, key: str, keep: int) -> Edit:
    """Let a list in the body have only its first entries."""

    def edit(events: list[Event]) -> Iterable[Event]:
        for event in events:
            if event.kind == kind:
                event = event.model_copy(update={"body": {**event.body, key: event.body[key][:keep]}})
            yield event

    return edit


def add(kind: str, after: str, /, seconds: float = 1, **how: Any) -> Edit:
    """Let one more act have been recorded, `seconds` after the last act of the kind `after`."""

    def edit(events: list[Event]) -> Iterable[Event]:
        last = [e for e in events if e.kind == after][-1]
        unit = Unit.__new__(Unit)
        unit.count, unit.endoscope, unit.person = 9000 + len(events), "e1", "ana"
        unit.cycle = next(
            e.id for e in reversed(events) if e.kind in ("patient_use_ended", "reprocessing_required")
        )
        unit.now = last.happened_at + timedelta(seconds=seconds)
        return [*events, unit.make(kind, **how)]

    return edit


def world_of(unit: Unit, edits: Iterable[Edit], library: Library | None = None) -> MemoryWorld:
    """Return the unit's world as it would be after the edits."""
    events: list[Event] = unit.world.events()
    for edit in edits:
        events = list(edit(events))
    return MemoryWorld(events, library=library or unit.library, policy=unit.policy)


def judged(
    rule: str,
    *edits: Edit,
    unit: Unit | None = None,
    model: str = "sanderling-28",
    route: str = "manual",
    policy: Policy | None = None,
    library: Library | None = None,
    later_s: float = 0,
) -> Finding:
    """Return what one rule finds in a finished cycle after the edits."""
    unit = unit or finished(model, route)
    world = world_of(unit, edits, library)
    case = gather(world, unit.endoscope, unit.cycle, unit.now + timedelta(seconds=later_s), policy)
    return RULES[rule].judge(case)


def verdict(*edits: Edit, unit: Unit | None = None, **how: Any) -> Any:
    """Return the whole verdict on a finished cycle after the edits."""
    unit = unit or finished()
    return assess(world_of(unit, edits), unit.endoscope, unit.cycle, unit.now, **how)


def model_with(unit: Unit, **changes: Any) -> Library:
    """Return the unit's library with something in its model otherwise."""
    model: EndoscopeModel = unit.described.model_copy(update=changes)
    return unit.library.model_copy(update={"endoscopes": [model]})


def _is(event: Event, kind: str, body: dict[str, Any]) -> bool:
    return event.kind == kind and all(event.body.get(key) == value for key, value in body.items())
