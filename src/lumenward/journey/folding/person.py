"""One person who may work here, with what they were shown competent for."""

from __future__ import annotations

from datetime import date

from lumenward.journey.event import Event
from lumenward.journey.states import Competency, PersonState


def start(person_id: str) -> PersonState:
    """Return a person of whom nothing is known yet."""
    return PersonState(id=person_id)


def apply(state: PersonState, event: Event) -> PersonState:
    """Return the state after the event; a newer competency for the same model replaces the older."""
    if event.subject != state.id:
        return state
    body = event.body
    if event.kind == "person_added":
        return state.model_copy(update={"name": body["name"], "role": body["role"], "left": False})
    if event.kind == "person_left":
        return state.model_copy(update={"left": True})
    if event.kind == "role_given":
        return state.model_copy(update={"role": body["role"]})
    if event.kind == "competency_recorded":
        shown = Competency(model=body["model"], valid_until=date.fromisoformat(str(body["valid_until"])))
        kept = [c for c in state.competencies if c.model != shown.model]
        return state.model_copy(update={"competencies": [*kept, shown]})
    return state
