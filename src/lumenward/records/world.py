"""The world as the records know it: states from projections, acts from the ledger, read when asked for."""

from __future__ import annotations

from bisect import insort
from collections.abc import Iterable
from datetime import datetime
from typing import TypeVar, cast

from pydantic import BaseModel

from lumenward.equipment.library import Library
from lumenward.equipment.policy import Policy
from lumenward.journey.event import Event
from lumenward.journey.folding import is_known, touches
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
from lumenward.ledger.canonical import read_stored
from lumenward.quantities import Refusal
from lumenward.records.models import Projection, StoredEvent

Subject = tuple[str, str]
S = TypeVar("S", bound=State)

_MOST_READ = 16
_READ: dict[str, BaseModel] = {}

STATES: dict[str, type[State]] = {
    "endoscope": EndoscopeState, "cycle": CycleState, "charge": ChargeState, "lot": LotState,
    "connector-set": ConnectorSetState, "batch": BatchState, "person": PersonState,
}  # fmt: skip


def event_of(row: StoredEvent) -> Event:
    """Return the event a row holds."""
    return Event.model_construct(
        id=row.id, kind=row.kind, version=row.version, subject=row.subject, cycle=row.cycle, person=row.person,
        station=row.station, happened_at=datetime.fromisoformat(row.happened_at), body=read_stored(row.body),
    )  # fmt: skip


class StoredWorld:
    """A `World` over the database. One object serves one request or one act: what it has read it keeps.

    `take_in` tells it of an event that is about to be stored, so that a batch can be checked act by act.
    """

    def __init__(self) -> None:
        self._states: dict[str, dict[str, State]] = {about: {} for about in STATES}
        self._latest: dict[Subject, str] = {}
        self._about: dict[Subject, list[Event]] = {}
        self._events: dict[str, Event | None] = {}
        self._listed: set[str] = set()
        self._new: set[Subject] = set()  # nothing stored is about them
        self._unstored: dict[Subject, list[Event]] = {}
        self._adopted: dict[str, list[tuple[datetime, str]]] = {}

    def event(self, event_id: str) -> Event | None:
        if event_id not in self._events:
            row = StoredEvent.objects.filter(pk=event_id).first()
            self._events[event_id] = event_of(row) if row else None
        return self._events[event_id]

    def acts(self, cycle_id: str) -> list[Event]:
        return list(self.events_about(("cycle", cycle_id)))

    def events_about(self, subject: Subject) -> list[Event]:
        """Return the events that touch a subject in their order (instant, id)."""
        if subject not in self._about:
            found = [*self._stored_about(subject), *self._unstored.get(subject, ())]
            self._about[subject] = sorted(found, key=lambda event: event.order)
        return self._about[subject]

    def _stored_about(self, subject: Subject) -> list[Event]:
        if subject in self._new:
            return []
        rows = StoredEvent.objects.filter(touches__about=subject[0], touches__ref=subject[1])
        return [event_of(row) for row in rows]

    def endoscope(self, endoscope_id: str) -> EndoscopeState | None:
        return self._known(EndoscopeState, ("endoscope", endoscope_id))

    def cycle(self, cycle_id: str) -> CycleState | None:
        return self._known(CycleState, ("cycle", cycle_id))

    def charge(self, charge_id: str) -> ChargeState | None:
        return self._known(ChargeState, ("charge", charge_id))

    def lot(self, lot_id: str) -> LotState | None:
        return self._known(LotState, ("lot", lot_id))

    def connector_set(self, set_id: str) -> ConnectorSetState | None:
        return self._known(ConnectorSetState, ("connector-set", set_id))

    def batch(self, batch_id: str) -> BatchState | None:
        return self._known(BatchState, ("batch", batch_id))

    def person(self, person_id: str) -> PersonState | None:
        return self._known(PersonState, ("person", person_id))

    def endoscopes(self) -> list[EndoscopeState]:
        """Return every endoscope of the house."""
        return self._list(EndoscopeState, "endoscope")

    def charges(self) -> list[ChargeState]:
        return [charge for charge in self._list(ChargeState, "charge") if not charge.discarded_at]

    def lots(self) -> list[LotState]:
        return self._list(LotState, "lot")

    def connector_sets(self) -> list[ConnectorSetState]:
        return [one for one in self._list(ConnectorSetState, "connector-set") if not one.discarded_why]

    def people(self) -> list[PersonState]:
        return self._list(PersonState, "person")

    def library(self, at: datetime | None = None) -> Library:
        return cast(Library, self._document(Library, self._in_force("library", at)))

    def policy(self, at: datetime | None = None) -> Policy:
        return cast(Policy, self._document(Policy, self._in_force("policy", at)))

    def state(self, subject: Subject) -> State | None:
        """Return the projection of a subject, known or only spoken of; None when nothing touches it."""
        about, ref = subject
        if ref not in self._states[about] and subject not in self._new:
            self._read_states(about, [ref])
        return self._states[about].get(ref)

    def _read_states(self, about: str, refs: list[str]) -> None:
        for row in Projection.objects.filter(about=about, ref__in=refs):
            self._keep(row)
        self._new |= {(about, ref) for ref in refs if ref not in self._states[about]}

    def latest(self, subject: Subject) -> str:
        """Return the place in time of the newest event of a subject, as `place_in_time` writes it."""
        self.state(subject)
        return self._latest.get(subject, "")

    def replace(self, subject: Subject, state: State, latest: str) -> None:
        """Hold a newer state than the stored one."""
        self._states[subject[0]][subject[1]] = state
        self._latest[subject] = latest

    def look_up(self, events: Iterable[Event]) -> None:
        """Ask at once for what is stored under the ids of many events and about what they touch, not one by one."""
        new = {event.id: event for event in events}
        self._events |= dict.fromkeys(new)
        self._events |= {row.id: event_of(row) for row in StoredEvent.objects.filter(pk__in=list(new))}
        subjects = {subject for event in new.values() for subject in touches(event, self)}
        for about, states in self._states.items():
            refs = [ref for kind, ref in subjects if kind == about and ref not in states]
            if refs:
                self._read_states(about, refs)

    def take_in(self, event: Event, subjects: set[Subject]) -> None:
        """Know of an event before it is stored."""
        self._events[event.id] = event
        for subject in subjects:
            self._unstored.setdefault(subject, []).append(event)
            if subject in self._about:
                insort(self._about[subject], event, key=lambda one: one.order)
        if event.kind.endswith("_adopted"):
            insort(self._adoptions(event.kind), event.order)

    def forget_acts(self) -> None:
        """Let go of events read so far, all of them stored by now, and of what is past; what goes on stays."""
        states = self._states["endoscope"].values()
        going_on = {("cycle", cast(EndoscopeState, state).cycle) for state in states}
        self._about = {subject: acts for subject, acts in self._about.items() if subject in going_on}
        self._events = {act.id: act for acts in self._about.values() for act in acts}
        self._unstored.clear()
        self._new.clear()
        for about in ("cycle", "batch"):
            for ref in self._states[about]:
                self._latest.pop((about, ref), None)
            self._states[about].clear()

    def _keep(self, row: Projection) -> None:
        states = self._states[row.about]
        if row.ref not in states:
            states[row.ref] = STATES[row.about].model_validate_json(row.state)
            self._latest[(row.about, row.ref)] = row.latest

    def _known(self, kind: type[S], subject: Subject) -> S | None:
        state = self.state(subject)
        return cast(S, state) if state is not None and is_known(subject[0], state) else None

    def _list(self, kind: type[S], about: str) -> list[S]:
        if about not in self._listed:
            for row in Projection.objects.filter(about=about, active=True):
                self._keep(row)
            self._listed.add(about)
        found = self._states[about].values()
        return sorted((cast(S, s) for s in found if is_known(about, s)), key=lambda state: state.id)

    def _in_force(self, what: str, at: datetime | None) -> str:
        adopted = self._adoptions(f"{what}_adopted")
        valid = [event_id for when, event_id in adopted if at is None or when <= at]
        if not valid:
            hint = f"Adopt one: lumenward {what} adopt."
            raise Refusal(f"no-{what}", f"No {what} has been adopted here yet.", what, hint)
        return valid[-1]

    def _adoptions(self, kind: str) -> list[tuple[datetime, str]]:
        if kind not in self._adopted:
            rows = StoredEvent.objects.filter(kind=kind).values_list("happened_at", "id")
            self._adopted[kind] = sorted((datetime.fromisoformat(when), event_id) for when, event_id in rows)
        return self._adopted[kind]

    def _document(self, shape: type[BaseModel], event_id: str) -> BaseModel:
        """Read an adopted document once in a process: an event never changes, and reading takes long."""
        if event_id not in _READ:
            event = self.event(event_id)
            assert event is not None
            if len(_READ) >= _MOST_READ:
                _READ.clear()
            _READ[event_id] = shape.model_validate(event.body["document"])
        return _READ[event_id]
