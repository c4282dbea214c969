"""A world held in memory: the same folds as the records, for tests and for making a demo's history."""

from __future__ import annotations

from bisect import bisect_right, insort
from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime
from typing import TypeVar, cast

from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey.event import Event
from lumenward.journey.folding import FOLDED, advance, fold, is_known, start, touch_rows
from lumenward.journey.states import (
    BatchState,
    ChargeState,
    ConnectorSetState,
    CycleState,
    EndoscopeState,
    LotState,
    PersonState,
    State,
)
from lumenward.quantities import Refusal

Subject = tuple[str, str]
Document = TypeVar("Document")


class MemoryWorld:
    """A `World` built from events. Nothing is checked here: ask `refuse` before appending.

    `library` and `policy`, where given, are in force before the first adoption event.
    """

    def __init__(
        self, events: Iterable[Event] = (), library: Library | None = None, policy: Policy | None = None
    ) -> None:
        self._events: dict[str, Event] = {}
        self._about: dict[Subject, list[Event]] = defaultdict(list)
        self._states: dict[Subject, State] = {}
        self._stale: set[Subject] = set()
        self._ids: dict[str, dict[str, None]] = {about: {} for about in FOLDED}
        self._waiting: dict[str, list[Event]] = defaultdict(list)
        self._library = library
        self._policy = policy
        self._libraries: list[tuple[datetime, str, Library]] = []
        self._policies: list[tuple[datetime, str, Policy]] = []
        for event in events:
            self.append(event)

    def append(self, event: Event) -> None:
        """Take in one event; one already known is passed over."""
        if event.id in self._events:
            return
        self._events[event.id] = event
        self._adopt(event)
        self._index(event)
        if event.kind == "corrected":
            self._waiting[str(event.body.get("event", ""))].append(event)
        for correction in self._waiting.get(event.id, ()):
            self._index(correction)

    def events(self) -> list[Event]:
        """Every event, in the order of (instant, id)."""
        return sorted(self._events.values(), key=lambda event: event.order)

    def event(self, event_id: str) -> Event | None:
        return self._events.get(event_id)

    def acts(self, cycle_id: str) -> list[Event]:
        return list(self._about.get(("cycle", cycle_id), ()))

    def endoscope(self, endoscope_id: str) -> EndoscopeState | None:
        return cast(EndoscopeState | None, self._state("endoscope", endoscope_id))

    def cycle(self, cycle_id: str) -> CycleState | None:
        return cast(CycleState | None, self._state("cycle", cycle_id))

    def charge(self, charge_id: str) -> ChargeState | None:
        return cast(ChargeState | None, self._state("charge", charge_id))

    def lot(self, lot_id: str) -> LotState | None:
        return cast(LotState | None, self._state("lot", lot_id))

    def connector_set(self, set_id: str) -> ConnectorSetState | None:
        return cast(ConnectorSetState | None, self._state("connector-set", set_id))

    def batch(self, batch_id: str) -> BatchState | None:
        return cast(BatchState | None, self._state("batch", batch_id))

    def person(self, person_id: str) -> PersonState | None:
        return cast(PersonState | None, self._state("person", person_id))

    def endoscopes(self) -> list[EndoscopeState]:
        return cast(list[EndoscopeState], self._all("endoscope"))

    def charges(self) -> list[ChargeState]:
        found = cast(list[ChargeState], self._all("charge"))
        return [charge for charge in found if not charge.discarded_at]

    def lots(self) -> list[LotState]:
        return cast(list[LotState], self._all("lot"))

    def connector_sets(self) -> list[ConnectorSetState]:
        found = cast(list[ConnectorSetState], self._all("connector-set"))
        return [one for one in found if not one.discarded_why]

    def people(self) -> list[PersonState]:
        return cast(list[PersonState], self._all("person"))

    def library(self, at: datetime | None = None) -> Library:
        return _in_force(self._libraries, self._library, at, "library")

    def policy(self, at: datetime | None = None) -> Policy:
        return _in_force(self._policies, self._policy, at, "policy")

    def _all(self, about: str) -> list[State]:
        found = (self._state(about, ref) for ref in self._ids[about])
        return [state for state in found if state is not None]

    def _state(self, about: str, ref: str) -> State | None:
        subject = (about, ref)
        if subject in self._stale:
            self._states[subject] = fold(about, ref, self._about[subject])
            self._stale.discard(subject)
        state = self._states.get(subject)
        return state if state is not None and is_known(about, state) else None

    def _index(self, event: Event) -> None:
        for event_id, about, ref in touch_rows(event, self):
            touching = self._events.get(event_id)
            if touching is not None:
                self._touch((about, ref), touching)

    def _touch(self, subject: Subject, event: Event) -> None:
        events = self._about[subject]
        about, ref = subject
        place = bisect_right(events, event.order, key=lambda one: one.order)
        if place and events[place - 1].id == event.id:
            return
        newest = place == len(events)
        insort(events, event, key=lambda one: one.order)
        self._ids[about][ref] = None
        if event.kind == "corrected" or not newest or subject in self._stale:
            self._stale.add(subject)
            return
        before = self._states.get(subject) or start(about, ref)
        self._states[subject] = advance(about, before, event)

    def _adopt(self, event: Event) -> None:
        if event.kind == "library_adopted":
            library = Library.model_validate(event.body["document"])
            insort(self._libraries, (*event.order, library), key=lambda one: one[:2])
        elif event.kind == "policy_adopted":
            policy = Policy.model_validate(event.body["document"])
            insort(self._policies, (*event.order, policy), key=lambda one: one[:2])


def _in_force(
    adopted: list[tuple[datetime, str, Document]], first: Document | None, at: datetime | None, what: str
) -> Document:
    valid = [one for one in adopted if at is None or one[0] <= at]
    if valid:
        return valid[-1][2]
    if first is None:
        raise Refusal(
            f"no-{what}", f"No {what} has been adopted here yet.", what, f"Adopt a {what} in Set-up."
        )
    return first
